"""Which week's page named a file that could not be read: it is named once, not every week."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from steadyband.athlete.model import Failure
from steadyband.ground.opening import small_text
from steadyband.ground.writing import replace_whole

NAME = "unreadable.json"
SIZE_MAX = 2**22


def named_before(store: Path) -> dict[str, str]:
    """The week whose page named each file and its fault; empty where nothing is kept or it cannot be read."""
    try:
        found = json.loads(small_text(store / NAME, SIZE_MAX))
    except (OSError, ValueError):
        return {}
    known = isinstance(found, dict) and all(isinstance(week, str) for week in found.values())
    return found if known else {}


def key_of(failure: Failure) -> str:
    """A file with its fault: another fault of the same file is news."""
    return f"{failure.file}: {failure.message}"


def keep_named(store: Path, failures: Iterable[Failure], week: str) -> None:
    """Keep that these were named on the page of a week; files that can be read by now are forgotten. A fault costs nothing but that."""
    before: Mapping[str, str] = named_before(store)
    now = {key_of(item): before.get(key_of(item), week) for item in failures}
    if now != before and store.is_dir():
        with contextlib.suppress(OSError):
            replace_whole(store / NAME, json.dumps(now, ensure_ascii=False).encode())
