"""The note on a shared copy: what was left out of the page that is being made, known to the templates while it is made."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_note: ContextVar[str] = ContextVar("shared_note", default="")


def shared_note() -> str:
    """One sentence on what this copy lacks; empty for an athlete's own page."""
    return _note.get()


@contextmanager
def shared_as(note: str) -> Iterator[None]:
    """Every page made inside is marked as a shared copy with this note."""
    before = _note.set(note)
    try:
        yield
    finally:
        _note.reset(before)
