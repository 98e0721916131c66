"""The repeats of a hard session, a test or a race, in words."""

from __future__ import annotations

from steadyband.audit.model import Audit, Repeats
from steadyband.told.loads import loads_of, percent


def repeats_text(audit: Audit) -> str:
    """ "4 efforts of 4:30 min, mean 209 W, each within 1 % of that, the last 1 % above the first; between them 3:45 min at 95 W."."""
    found = audit.repeats
    if found is None:
        return ""
    loads = loads_of(audit)
    parts = [f"{_number(found)}, mean {loads.text(found.mean)}"]
    if found.spread is not None and found.change is not None:
        parts.append(f"each within {percent(found.spread)} of that, the last {_change(found.change)} the first")
    text = ", ".join(parts)
    if found.recovery_s is not None:
        at = "" if found.recovery_mean is None else f" at {loads.text(found.recovery_mean)}"
        text += f"; between them {minutes_text(found.recovery_s)}{at}"
    if found.others:
        text += f"; and {found.others} of another length, not among these"
    return f"{text}."


def _number(found: Repeats) -> str:
    if found.number == 1:
        return f"One effort above the ceiling, {minutes_text(found.length_s)}"
    length = minutes_text(found.length_s)
    if found.shortest_s != found.longest_s:
        length = (
            f"about {length} ({minutes_text(found.shortest_s).removesuffix(' min')} to {minutes_text(found.longest_s)})"
        )
    return f"{found.number} efforts of {length}"


def _change(share: float) -> str:
    if abs(share) < 0.005:
        return "like"
    return f"{percent(abs(share))} {'above' if share > 0 else 'below'}"


def minutes_text(seconds: float) -> str:
    """ "50 s" or "4:30 min".

    >>> minutes_text(50), minutes_text(270)
    ('50 s', '4:30 min')
    """
    whole = round(seconds)
    return f"{whole} s" if whole < 60 else f"{whole // 60}:{whole % 60:02d} min"
