"""Where surges came from, in words, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from steadyband.audit.model import CAUSES, Surges

WHERE: Mapping[str, str] = {
    "restart": "after a stop",
    "climb start": "where a climb began",
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


def leading(surges: Surges, most: int) -> list[str]:
    """The causes with the most surges, most first, at most `most`; those of equal count by seconds above the ceiling."""
    counts, seconds = surges.by_cause, surges.seconds_by_cause
    found = [cause for cause in CAUSES if counts.get(cause) and cause != "unknown"]
    ranked = sorted(found, key=lambda cause: (-counts[cause], -seconds.get(cause, 0)))
    return ranked[:most]


def causes_text(surges: Surges, most: int) -> str:
    """ "6 came on a climb, 6 where a climb began, 6 on the flat and 11 elsewhere. The hill forced 2 (a lower gear or another
    road helps), 27 were avoidable."; empty where nothing is known of any.
    """
    told = where_text(surges, most, " came")
    return f"{told}.{_forced_text(surges)}" if told else ""


def where_text(surges: Surges, most: int, verb: str = "") -> str:
    """ "6 came on a climb, 6 where a climb began, 6 on the flat and 11 elsewhere", every surge counted once; empty where
    nothing is known of any. `verb` follows the first number."""
    named = leading(surges, most)
    if not named:
        return ""
    counts = [surges.by_cause[cause] for cause in named]
    parts = [
        f"{count}{'' if at else verb} {WHERE[cause]}"
        for at, (count, cause) in enumerate(zip(counts, named, strict=True))
    ]
    rest = surges.count - sum(counts)
    return listed([*parts, *([f"{rest} elsewhere"] if rest else [])])


def _forced_text(surges: Surges) -> str:
    if surges.forced is None or surges.avoidable is None:
        return ""
    if not surges.forced:
        return " The hills forced none of them."
    rest = f", {surges.avoidable} {'was' if surges.avoidable == 1 else 'were'} avoidable" if surges.avoidable else ""
    return f" The hill forced {surges.forced} (a lower gear or another road helps){rest}."


def advice_text(surges: Surges, on_foot: bool) -> str:
    """What to do about the two leading causes, a sentence; empty where no cause is known."""
    told = [(ON_FOOT if on_foot else BY_BIKE)[cause] for cause in leading(surges, 2)]
    text = listed(told)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def listed(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
