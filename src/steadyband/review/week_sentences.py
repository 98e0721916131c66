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
from steadyband.review.sentences import is_unsure, number_word
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
    """What changed against the week before: sessions held, hours, heavy share, surges; a word where it was empty."""
    now = [item for item in sessions if first <= item.day < first + timedelta(weeks=1)]
    before = [item for item in sessions if first - timedelta(weeks=1) <= item.day < first]
    if not before:
        return ("There is no session in the week before to compare with.",)
    sports = sorted({item.audit.info.sport for item in (*before, *now)})
    lines = [line for sport in sports for line in _sport_lines(sport, (_of(before, sport), _of(now, sport)), limits)]
    return (_held(before, now), *lines, *_increase(before, now, limits))


def _of(sessions: Sequence[Condensed], sport: str) -> list[Condensed]:
    return [item for item in sessions if item.audit.info.sport == sport]


def _held(before: Sequence[Condensed], now: Sequence[Condensed]) -> str:
    return f"{_count(now).capitalize()} held the band, after {_count(before)} the week before."


def _count(sessions: Sequence[Condensed]) -> str:
    judged = [item.audit for item in sessions if item.audit.verdict.in_band is not None]
    held = sum(audit.verdict.in_band is True for audit in judged)
    unsure = sum(is_unsure(audit) for audit in judged)
    doubt = f" ({number_word(unsure)} unsure)" if unsure else ""
    return f"{number_word(held)} of {number_word(len(judged))} judged{doubt}"


def _sport_lines(
    sport: str, weeks: tuple[Sequence[Condensed], Sequence[Condensed]], limits: BlockSettings
) -> Iterable[str]:
    before, now = weeks
    old, new = _hours(before), _hours(now)
    yield f"{sport_words(sport)}: {_active(old, new, limits)}"
    heavy = _heavy(old), _heavy(new)
    if heavy[0] is not None and heavy[1] is not None and abs(heavy[1] - heavy[0]) >= limits.heavy_change:
        yield f"{sport_words(sport)}: {100 * heavy[1]:.0f} % of the time above the ceiling, after {100 * heavy[0]:.0f} %."
    rates = surge_rate(charted(before)), surge_rate(charted(now))
    if rates[0] is not None and rates[1] is not None and abs(rates[1] - rates[0]) >= limits.surge_change:
        yield f"{sport_words(sport)}: {rates[1]:.0f} surges an hour in endurance sessions, after {rates[0]:.0f}."


def _hours(sessions: Sequence[Condensed]) -> SportHours | None:
    return next(iter(sport_hours([item.audit for item in sessions])), None)


def _active(old: SportHours | None, new: SportHours | None, limits: BlockSettings) -> str:
    if new is None:
        return f"none, after {duration_text(old.active_s if old else 0)} the week before."
    if old is None or not old.active_s:
        return f"{duration_text(new.active_s)} active, after none the week before."
    change = new.active_s / old.active_s - 1
    if abs(change) <= limits.same_share:
        return f"{duration_text(new.active_s)} active, much the same as the week before."
    return f"{duration_text(new.active_s)} active, after {duration_text(old.active_s)} ({100 * change:+.0f} %)."


def _increase(before: Sequence[Condensed], now: Sequence[Condensed], limits: BlockSettings) -> Iterable[str]:
    old, new = (sum(item.audit.seconds.active for item in part) for part in (before, now))
    rise = 100 * (new / old - 1) if old >= limits.short_week_s else 0.0
    if rise > limits.increase_percent:
        yield (
            f"In all {duration_text(new)} after {duration_text(old)} ({rise:+.0f} %): common practice keeps increases to 10 "
            "to 15 % a week, and you or your coach decide."
        )


def _heavy(item: SportHours | None) -> float | None:
    total = sum(item.bands.values()) if item else 0
    return (item.bands["heavy"] + item.bands["severe"]) / total if item and total else None
