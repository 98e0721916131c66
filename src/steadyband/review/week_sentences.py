"""What the week review says beyond single sessions: the plan, the week before, what to decide."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from steadyband.athlete.condensed import Condensed
from steadyband.ground.settings import BlockSettings
from steadyband.ground.units import duration_text
from steadyband.review.block_drift import charted
from steadyband.review.drift_sentences import fit_words, sport_words
from steadyband.review.fit_of_test import TestFit
from steadyband.review.hours import sport_hours
from steadyband.review.model import Advice, PlanHours, SportHours
from steadyband.review.sentences import is_unsure, number_word, rise_text
from steadyband.review.surge_rate import surge_rate


def decisions(
    asked: Sequence[Advice],
    creeps: Sequence[Advice],
    fits: Sequence[TestFit],
    plan: Sequence[PlanHours],
    others: Sequence[Advice],
) -> tuple[Advice, ...]:
    """Questions first, then what crept, tests that no longer fit, the plan, and what the tests themselves ask for."""
    evidence = [_retest(fit) for fit in fits if fit.fit in ("fitter than the test", "tired, hot or ill")]
    found = [*asked, *creeps, *evidence, *plan_missed(plan)]
    return (*found, *(advice for advice in others if not advice.idle)) if found else tuple(others)


def _retest(fit: TestFit) -> Advice:
    numbers = {f"shift_{item.place}_bpm": item.mean for item in fit.intervals}
    text = fit_words(fit)
    return Advice(f"{sport_words(fit.sport)}: retest?", f"{text[:1].upper()}{text[1:]}", numbers)


def plan_kept(plan: Sequence[PlanHours]) -> tuple[Advice, ...]:
    """A word where every planned line was kept."""
    if not plan or not all(item.met for item in plan):
        return ()
    return (Advice("The plan was kept.", f"{'; '.join(plan_text(item) for item in plan)}."),)


def plan_missed(plan: Sequence[PlanHours]) -> tuple[Advice, ...]:
    """The planned lines that were not kept, as one thing to decide."""
    missed = [item for item in plan if not item.met]
    if not missed:
        return ()
    unknown = {item.sport: item.unknown for item in missed if item.unknown > 0}
    doubt = [
        f"{duration_text(3600 * hours)} of {sport} carry no band and may belong here"
        for sport, hours in unknown.items()
    ]
    text = "; ".join([*(plan_text(item) for item in missed), *doubt])
    return (Advice("The plan and the week differ.", f"{text}. Change the plan or the week.", {"lines": len(missed)}),)


def plan_text(item: PlanHours) -> str:
    """One planned line against what was done."""
    wanted = (
        f"at most {duration_text(3600 * item.planned)}" if item.at_most else f"{duration_text(3600 * item.planned)}"
    )
    band = "in all" if item.band == "total" else item.band
    return f"{item.sport} {band} {duration_text(3600 * item.done)}, planned {wanted}"


def since_last_week(sessions: Sequence[Condensed], first: date, limits: BlockSettings) -> tuple[str, ...]:
    """What changed against the week before in one line: hours, sessions held, share above the ceiling, surges; then a word
    where the hours rose by more than common practice."""
    now = [item for item in sessions if first <= item.day < first + timedelta(weeks=1)]
    before = [item for item in sessions if first - timedelta(weeks=1) <= item.day < first]
    if not before:
        return ("There is no session in the week before to compare with.",)
    sports = sorted({item.audit.info.sport for item in (*before, *now)})
    told = [part for sport in sports for part in _sport_changes(sport, (_of(before, sport), _of(now, sport)), limits)]
    line = "; ".join([_hours_after(before, now, limits), _held_after(before, now), *told])
    return (f"{line}.", *_increase(before, now, limits))


def _of(sessions: Sequence[Condensed], sport: str) -> list[Condensed]:
    return [item for item in sessions if item.audit.info.sport == sport]


def _active(sessions: Sequence[Condensed]) -> int:
    return sum(item.audit.seconds.active for item in sessions)


def _hours_after(before: Sequence[Condensed], now: Sequence[Condensed], limits: BlockSettings) -> str:
    old, new = _active(before), _active(now)
    if old and abs(new / old - 1) <= limits.same_share:
        return f"{duration_text(new)} active, much the same as the {duration_text(old)} before"
    return f"{duration_text(new)} active after {duration_text(old)}"


def _held_after(before: Sequence[Condensed], now: Sequence[Condensed]) -> str:
    told = _count(now), _count(before)
    if told == ("none judged", "none judged"):
        return "none judged in either week"
    return f"{told[0]} after {told[1]}"


def _count(sessions: Sequence[Condensed]) -> str:
    judged = [item.audit for item in sessions if item.audit.verdict.in_band is not None]
    if not judged:
        return "none judged"
    held = sum(audit.verdict.in_band is True for audit in judged)
    unsure = sum(is_unsure(audit) for audit in judged)
    doubt = f" ({number_word(unsure)} unsure)" if unsure else ""
    return f"{number_word(held) if held else 'none'} of {number_word(len(judged))} held{doubt}"


def _sport_changes(
    sport: str, weeks: tuple[Sequence[Condensed], Sequence[Condensed]], limits: BlockSettings
) -> Iterable[str]:
    before, now = weeks
    name = sport.replace("_", " ")
    heavy = _heavy(_hours(before)), _heavy(_hours(now))
    if heavy[0] is not None and heavy[1] is not None and abs(heavy[1] - heavy[0]) >= limits.heavy_change:
        yield f"{name} {_percent(heavy[1])} above the ceiling after {_percent(heavy[0])}"
    rates = surge_rate(charted(before)), surge_rate(charted(now))
    if rates[0] is not None and rates[1] is not None and abs(rates[1] - rates[0]) >= limits.surge_change:
        yield f"{name} {rates[1]:.0f} surges an hour after {rates[0]:.0f}"


def _percent(share: float) -> str:
    return "under 1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"


def _hours(sessions: Sequence[Condensed]) -> SportHours | None:
    return next(iter(sport_hours([item.audit for item in sessions])), None)


def _increase(before: Sequence[Condensed], now: Sequence[Condensed], limits: BlockSettings) -> Iterable[str]:
    old, new = _active(before), _active(now)
    if old >= limits.short_week_s and 100 * (new / old - 1) > limits.increase_percent:
        yield (
            f"That is {rise_text(old, new)}: common practice keeps increases to 10 to 15 % a week, and you or your coach decide."
        )


def _heavy(item: SportHours | None) -> float | None:
    total = sum(item.bands.values()) if item else 0
    return (item.bands["heavy"] + item.bands["severe"]) / total if item and total else None
