"""The sign by which a fast reader leaves a file to the library that is its reference."""

from __future__ import annotations


class NotCovered(Exception):  # noqa: N818 (a reason to take the other reader, no error of the file)
    """The bytes hold something that the fast reader does not cover; the message says what, as a noun phrase."""
