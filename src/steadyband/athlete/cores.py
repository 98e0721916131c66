"""How many cores there are, and when several are worth having."""

from __future__ import annotations

import os

PARALLEL_FROM = 6
"""Fewer files than this are read in one process: starting others would cost more (measured, see DEVELOPERS.md)."""


def cores() -> int:
    """The cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def worth_spreading(count: int) -> bool:
    """True where that many files are done sooner by several processes."""
    return count >= PARALLEL_FROM and cores() > 1
