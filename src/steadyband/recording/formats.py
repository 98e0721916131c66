"""The formats that can be read. A new one is a package beside `fit` and `gpx` with an `activity.py`, and a line here."""

from __future__ import annotations

FORMATS: dict[str, str] = {"fit": "FIT", "gpx": "GPX"}
"""Package of each reader, which is its usual suffix too, and how the format is written; the one that tells more comes first."""

PACKED = ("gz", "zip")
"""Suffixes of what recordings come packed in."""


def formats_text() -> str:
    """The formats in words.

    >>> formats_text()
    'FIT or GPX'
    """
    *others, last = FORMATS.values()
    return f"{', '.join(others)} or {last}" if others else last
