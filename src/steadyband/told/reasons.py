"""Why a session is not judged, or is asked about, in words; and what a session looks like it was for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from steadyband.ground.said import Said
from steadyband.ground.units import duration_text
from steadyband.steptest.choose import choice_text
from steadyband.told.loads import percent


def reasons_text(reasons: Sequence[Said]) -> str:
    """All reasons in one clause, or the question where a session is asked about.

    >>> reasons_text((Said("too_short", {"active_s": 900, "least_s": 1200}),))
    '15 min active, at least 20 min are needed'
    """
    return "; ".join(_reason(reason) for reason in reasons)


def _reason(said: Said) -> str:
    words = REASONS.get(said.code)
    return words(said.numbers) if words else said.code.replace("_", " ")


def _no_test(numbers: Mapping[str, Any]) -> str:
    if numbers["why"] == "unusable":
        return f"the test {numbers['test']} gives no usable zones"
    if numbers["why"] == "none":
        return "no usable test of this sport on or before this date"
    return _as_clause(choice_text(Said(numbers["why"], numbers)))


def _as_clause(sentence: str) -> str:
    """A sentence made fit to follow a colon."""
    opening = sentence[:1].lower() if sentence[1:2].islower() else sentence[:1]
    return f"{opening}{sentence[1:]}".rstrip(". ")


def _too_short(numbers: Mapping[str, Any]) -> str:
    return f"{duration_text(numbers['active_s'])} active, at least {duration_text(numbers['least_s'])} are needed"


def _asked(numbers: Mapping[str, Any]) -> str:
    looks = looks_text(Said(numbers["looks"], numbers))
    return f"Was this a hard session? {looks[:1].upper()}{looks[1:]}. Say so with `steadyband label`; until then it is not judged"


REASONS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "intent": lambda numbers: (
        f"labelled {numbers['intent']}; such sessions are counted in the week's bands but not judged"
    ),
    "no_test": _no_test,
    "no_load": lambda numbers: (
        "the recording holds nothing to judge by: neither the load of the test nor its heart rate"
    ),
    "too_short": _too_short,
    "unmeasured": lambda numbers: (
        f"{percent(numbers['share'])} of the active time is unmeasured (limit {percent(numbers['limit'])})"
    ),
    "asked": _asked,
}


def looks_text(said: Said) -> str:
    """What a session's load looks like, in a clause.

    >>> looks_text(Said("share_easy", {"share_easy": 0.82}))
    '82 % of it was easy'
    """
    words = LOOKS.get(said.code)
    return words(said.numbers) if words else said.code.replace("_", " ")


def _efforts(numbers: Mapping[str, Any]) -> str:
    above = 100 * (numbers["load_over_ceiling"] - 1)
    return (
        f"{numbers['efforts']:.0f} efforts of about {duration_text(numbers['median_length_s'])}, {above:.0f} % above the "
        "ceiling, with easy going between them"
    )


LOOKS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "unknown": lambda numbers: "the recording holds no load and no heart rate to tell it from",
    "no_test": lambda numbers: "no step test of its sport applies to this day",
    "open_ceiling": lambda numbers: "the ceiling of the test is open, so hard and steady cannot be told apart",
    "efforts": _efforts,
    "share_above": lambda numbers: f"{100 * numbers['share_above']:.0f} % of it was above the ceiling",
    "share_easy": lambda numbers: f"{100 * numbers['share_easy']:.0f} % of it was easy",
    "share_below": lambda numbers: f"{100 * numbers['share_below']:.0f} % of it was below the ceiling",
}
