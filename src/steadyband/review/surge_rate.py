"""Surges an hour over many sessions."""

from __future__ import annotations

from collections.abc import Iterable

from steadyband.athlete.condensed import Condensed


def surge_rate(sessions: Iterable[Condensed]) -> float | None:
    """Surges an active hour over the sessions that can show them, None without one (METHOD 8)."""
    seen = [(item.audit.surges.count, item.audit.seconds.active) for item in sessions if item.audit.surges is not None]
    active = sum(seconds for _, seconds in seen)
    return 3600 * sum(count for count, _ in seen) / active if active else None
