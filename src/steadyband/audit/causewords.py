"""Where surges came from, in words, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from steadyband.audit.model import CAUSES, Surge, Surges

WHERE: Mapping[str, str] = {
    "restart": "after a stop",
    "climb start": "at the start of a climb",
    "crest": "at a crest",
    "on climb": "on a climb",
    "rise": "on a short rise",
    "descent": "on a descent",
    "flat": "on the flat",
    "unknown": "on unknown ground",
}
BY_BIKE: Mapping[str, str] = {
    "restart": "start again gently after every stop",
    "climb start": "ease off before the foot of each climb and shift down early",
    "crest": "let the speed come by itself over each crest",
    "on climb": "settle into one even effort on each climb",
    "rise": "let the speed fall on short rises",
    "descent": "let the bike roll on descents",
    "flat": "hold one even effort on the flat",
}
ON_FOOT: Mapping[str, str] = {
    "restart": "start again gently after every stop",
    "climb start": "shorten the stride before the foot of each climb",
    "crest": "keep the short stride until a crest is behind you",
    "on climb": "walk where a climb would force the load up",
    "rise": "shorten the stride on short rises",
    "descent": "let the legs roll on descents",
    "flat": "hold one even pace on the flat",
}
MOST_NAMED = 3


def leading(surges: Surges) -> list[str]:
    """The causes with the most surges, most first, at most three; those of equal count by seconds above the ceiling."""
    counts, seconds = surges.by_cause, surges.seconds_by_cause
    found = [cause for cause in CAUSES if counts.get(cause) and cause != "unknown"]
    ranked = sorted(found, key=lambda cause: (-counts[cause], -seconds.get(cause, 0)))
    return ranked[:MOST_NAMED]


def telling(surges: Surges, most: int) -> list[Surge]:
    """The surges with the most work, or else the most seconds, above the ceiling, in time order."""
    ranked = sorted(surges.events, key=lambda event: (event.work_above_j or 0.0, event.seconds_above), reverse=True)
    return sorted(ranked[:most], key=lambda event: event.start_s)


def causes_text(surges: Surges) -> str:
    """ "Of 29, 6 began on a climb, 6 at the start of a climb and 6 on the flat; 2 were forced by the hill (ride a lower gear or
    another road), 27 were avoidable."; empty where nothing is known of any.
    """
    named = leading(surges)
    if not named:
        return ""
    parts = [f"{surges.by_cause[cause]} began {WHERE[cause]}" for cause in named[:1]]
    parts += [f"{surges.by_cause[cause]} {WHERE[cause]}" for cause in named[1:]]
    return f"Of {surges.count}, {listed(parts)}{_forced_text(surges)}."


def _forced_text(surges: Surges) -> str:
    if surges.forced is None or surges.avoidable is None:
        return ""
    if not surges.forced:
        return "; the hills forced none of them"
    were = "was" if surges.forced == 1 else "were"
    rest = f", {surges.avoidable} {'was' if surges.avoidable == 1 else 'were'} avoidable" if surges.avoidable else ""
    return f"; {surges.forced} {were} forced by the hill (ride a lower gear or another road){rest}"


def advice_text(surges: Surges, on_foot: bool) -> str:
    """What to do about the two leading causes, a sentence; empty where no cause is known."""
    told = [(ON_FOOT if on_foot else BY_BIKE)[cause] for cause in leading(surges)[:2]]
    text = listed(told)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def listed(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
