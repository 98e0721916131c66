"""What the block review says, each sentence standing on numbers of the sessions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import pairwise

import numpy as np

from steadyband.athlete.condensed import Condensed
from steadyband.audit.measure.drift import theil_sen
from steadyband.audit.model import Audit
from steadyband.ground.said import Said
from steadyband.ground.settings import BlockSettings
from steadyband.ground.units import day_words, duration_text, load_text
from steadyband.review.block_drift import Creep, LevelTrend
from steadyband.review.distribution import Distribution
from steadyband.review.drift_sentences import series_words, span_words, sport_words
from steadyband.review.fit_of_test import place_of
from steadyband.review.model import Advice, Durability, TestInForce, Week
from steadyband.review.sentences import is_unsure, noun_of, number_word, rise_text
from steadyband.told.reasons import looks_text


def answer(
    judged: Sequence[Audit], held: int, weeks: int, creeps: Sequence[Creep], trends: Sequence[LevelTrend]
) -> str:
    """The block in two or three sentences: how many held, how sure, and whether the load crept."""
    span = f"these {number_word(weeks)} weeks" if weeks > 1 else "this week"
    if not judged:
        return f"No endurance session could be judged in {span}."
    unsure = sum(is_unsure(audit) for audit in judged)
    doubt = f"; {number_word(unsure)} of these verdicts {'is' if unsure == 1 else 'are'} unsure" if unsure else ""
    noun = "endurance session" if len(judged) == 1 else "endurance sessions"
    count = number_word(held).capitalize() if held else "None"
    lead = f"{count} of {number_word(len(judged))} {noun} held the band in {span}{doubt}."
    if held == len(judged) > 1:
        lead = f"All {number_word(held)} {noun} held the band in {span}{doubt}."
    return " ".join([lead, *_moved(creeps, trends)])


def _moved(creeps: Sequence[Creep], trends: Sequence[LevelTrend]) -> Iterable[str]:
    ups = {creep.began.audit.info.sport: creep for creep in creeps if creep.side == "up"}
    for sport, creep in ups.items():
        since = f"{day_words(creep.began.day)}, week {creep.began.day.isocalendar().week}"
        yield f"{sport_words(sport)} has crept up since {since}."
    for trend in trends:
        if trend.raised and trend.sport not in ups:
            yield (
                f"{series_words(trend.sport, trend.channel)} crept up inside the band, from {100 * trend.first_level:.0f} to "
                f"{100 * trend.last_level:.0f} % of the target top."
            )


def subline(first: date, last: date, audits: Sequence[Audit]) -> str:
    """Which days, how many sessions and how much time."""
    seconds = sum(audit.seconds.active for audit in audits)
    count = f"{len(audits)} session" + ("" if len(audits) == 1 else "s")
    return f"{span_words(first, last)}: {count}, {duration_text(seconds)} active."


def distribution_notes(found: Mapping[str, Distribution]) -> tuple[str, ...]:
    """Shares over three domains and the index in words, described and never prescribed."""
    if not found:
        return ("No session carries bands, so nothing can be said about the distribution of intensity.",)
    lines = tuple(_distribution_note(name, item) for name, item in found.items())
    close = "No distribution is shown to be best for everyone; this describes what was done and prescribes nothing."
    return (*lines, close)


def _distribution_note(name: str, item: Distribution) -> str:
    if item.by_threshold:
        parts = f"{_percent(item.low)} below the first rise, {_percent(item.middle)} from there to the upper threshold, {_percent(item.high)} above it"
    else:
        parts = f"{_percent(item.low)} easy, {_percent(item.middle)} steady, {_percent(item.high)} above the ceiling"
    text = f"{sport_words(name)}, {duration_text(item.seconds)}: {parts}"
    return f"{text}; {_index(item)}."


def _percent(share: float) -> str:
    return "under 1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"


def _index(item: Distribution) -> str:
    if item.index is None:
        return "no polarization index, for that much high or that little easy time it is not defined"
    text = f"polarization index {item.index:.2f} ({'above' if item.index > 2 else 'not above'} 2.00, where a distribution counts as polarized)"
    if item.by_threshold:
        return text
    return f"{text}, with the ceiling as upper border since athlete.toml gives no upper threshold for all of it"


def durability(sessions: Sequence[Condensed], flag: float, limits: BlockSettings) -> tuple[Durability, ...]:
    """Heart-rate drift against session length, by sport, indoors and outdoors apart; over `flag` [%] it is pointed out.

    Source: METHOD 8.
    """
    drifted = [item.audit for item in sessions if item.audit.drift and item.audit.drift.hr_drift_percent is not None]
    keys = sorted({(audit.info.sport, place_of(audit)) for audit in drifted})
    return tuple(
        _durability(
            f"{sport_words(sport)}, {place}",
            [a for a in drifted if (a.info.sport, place_of(a)) == (sport, place)],
            flag,
            limits,
        )
        for sport, place in keys
    )


def _durability(name: str, audits: Sequence[Audit], flag: float, limits: BlockSettings) -> Durability:
    points = tuple((audit.seconds.active / 3600, _drift(audit)) for audit in audits)
    if len(points) < limits.durability_sessions:
        few = f"{number_word(len(points))} session{'s' if len(points) > 1 else ''} with heart rate and an even load"
        return Durability(name, points, f"{name}: {few}; {limits.durability_sessions} are needed to tell.")
    over = [audit for audit in audits if _drift(audit) > flag]
    longest = max((hours for hours, drift in points if drift <= flag), default=None)
    if longest is None:
        return Durability(
            name, points, f"{name}: heart rate drifted by more than {flag:g} % in all {len(points)} sessions."
        )
    held = (
        f"heart rate stayed within {flag:g} % of the load in {len(points) - len(over)} of {len(points)} sessions, "
        f"the longest of them {duration_text(3600 * longest)}"
    )
    tail = "; it drifted " + "; ".join(_drift_words(audit) for audit in over[:3]) if over else ""
    return Durability(name, points, f"{name}: {held}{tail}.{_per_hour(points, limits)}")


def _drift_words(audit: Audit) -> str:
    day = day_words(audit.info.local_start.date())
    return f"{_drift(audit):.0f} % on {day} ({duration_text(audit.seconds.active)})"


def _drift(audit: Audit) -> float:
    return audit.drift.hr_drift_percent or 0.0 if audit.drift else 0.0


def _per_hour(points: Sequence[tuple[float, float]], limits: BlockSettings) -> str:
    hours, drift = np.array(points).T
    if len(points) < limits.durability_trend_sessions or len(set(hours)) < len(hours):
        return ""
    slope, low, high = theil_sen(hours, drift)
    says = "grows with length" if low > 0 else "shrinks with length" if high < 0 else "shows no clear link to length"
    return f" Drift {says}: {slope:+.1f} % an hour (95 % interval {low:+.1f} to {high:+.1f})."


def load_notes(weeks: Sequence[Week], limits: BlockSettings) -> tuple[str, ...]:
    """Weeks whose active time rose by more than common practice, as a remark (METHOD 8)."""
    notes = []
    for before, after in pairwise(weeks):
        rise = 100 * (after.active_s / before.active_s - 1) if before.active_s >= limits.short_week_s else 0.0
        if rise > limits.increase_percent:
            notes.append(
                f"Week {before.first_day.isocalendar().week} to {after.first_day.isocalendar().week}: {duration_text(before.active_s)} to {duration_text(after.active_s)} "
                f"active, {rise_text(before.active_s, after.active_s)}. Common practice keeps increases to 10 to 15 % a week; you or your coach decide."
            )
    return tuple(notes)


def limiters(
    sessions: Sequence[Condensed],
    tests: Sequence[TestInForce],
    spread: Mapping[str, Distribution],
    limits: BlockSettings,
) -> tuple[Advice, ...]:
    """What holds the block back, as far as the numbers tell."""
    found = [
        *_no_easy(tests),
        *_low_ceiling(tests, limits),
        *_forced(sessions, limits),
        *_little_steady(sessions, limits),
    ]
    if not spread or not any(item.zone_set for item in tests):
        return tuple(found)
    return tuple(found) or (
        Advice(
            "No limiter stands out.", "Every sport has an easy band and steady time, and no hill forced the load up."
        ),
    )


def _no_easy(tests: Iterable[TestInForce]) -> Iterable[Advice]:
    for item in tests:
        if item.zone_set is not None and item.zone_set.edges.easy_empty:
            where = "on the bike or on foot walking" if item.sport == "running" else "in another sport"
            floor = load_text(item.zone_set.edges.floor, item.zone_set.test.load_unit)
            yield Advice(
                f"No easy {item.sport}.",
                f"Lactate had risen by {floor}, the first step: all {item.sport} is at least steady, and easy volume belongs {where}.",
            )


def _low_ceiling(tests: Sequence[TestInForce], limits: BlockSettings) -> Iterable[Advice]:
    pulses = {item.sport: item.zone_set.hr.ceiling for item in tests if item.zone_set and item.zone_set.hr.ceiling}
    if len(pulses) < 2:
        return
    low, high = min(pulses, key=lambda sport: pulses[sport] or 0), max(pulses, key=lambda sport: pulses[sport] or 0)
    lowest, highest = pulses[low] or 0.0, pulses[high] or 0.0
    if highest - lowest >= limits.hr_between_sports:
        text = (
            f"The ceiling comes at {lowest:.0f} bpm in {low} and at {highest:.0f} bpm in {high}. Some difference is usual; "
            f"this much says that {low} is limited by something other than the heart."
        )
        yield Advice(f"A low ceiling in {low}.", text, {"low_bpm": lowest, "high_bpm": highest})


def _forced(sessions: Sequence[Condensed], limits: BlockSettings) -> Iterable[Advice]:
    known = [item.audit.surges for item in sessions if item.audit.surges and item.audit.surges.forced is not None]
    total, forced = sum(item.count for item in known), sum(item.forced or 0 for item in known)
    if total and forced / total >= limits.forced_share:
        text = f"{forced} of {total} surges were forced by the hill: a lower gear or another road, not discipline, is what mends them."
        yield Advice("Climbs force the load up.", text, {"forced": forced, "surges": total})


def _little_steady(sessions: Sequence[Condensed], limits: BlockSettings) -> Iterable[Advice]:
    bands = [item.audit.bands for item in sessions if item.audit.bands]
    total = sum(band.seconds for found in bands for band in found.values())
    steady = sum(found["steady"].seconds for found in bands)
    if total and steady / total < limits.steady_share:
        text = f"{duration_text(steady)} of {duration_text(total)} were steady, {_percent(steady / total)}: whether that is enough is for the plan to say."
        yield Advice("Little steady time.", text, {"steady_s": steady, "share": steady / total})


def went_well(sessions: Sequence[Condensed]) -> tuple[Advice, ...]:
    """The share of sessions that held in each sport, and the longest of them."""
    found = []
    for sport in sorted({item.audit.info.sport for item in sessions}):
        judged = [
            item.audit for item in sessions if item.audit.info.sport == sport and item.audit.verdict.in_band is not None
        ]
        held = [audit for audit in judged if audit.verdict.in_band]
        if held:
            found.append(_held_well(sport, held, len(judged)))
    return tuple(found)


def _held_well(sport: str, held: Sequence[Audit], judged: int) -> Advice:
    longest = max(held, key=lambda audit: audit.seconds.active)
    doubt = ", though unsure" if is_unsure(longest) else ""
    text = (
        f"{len(held)} of {judged} held the band; the longest was {day_words(longest.info.local_start.date())}'s {noun_of(longest)} "
        f"of {duration_text(longest.seconds.active)}{doubt}."
    )
    return Advice(f"{sport_words(sport)}.", text, {"held": len(held), "judged": judged})


def _looks(item: Condensed) -> str:
    text = looks_text(Said(item.guess.looks, item.guess.numbers))
    return f"{text[:1].upper()}{text[1:]}"


def questions(sessions: Sequence[Condensed]) -> tuple[Advice, ...]:
    """Sessions that look hard and were never labelled: asked about, not judged."""
    return tuple(
        Advice(
            f"{day_words(item.day)}'s {noun_of(item.audit)}: was it a hard session?",
            f"{_looks(item)}. `steadyband label` takes the answer; until then it is not judged.",
            dict(item.guess.numbers),
        )
        for item in sessions
        if item.is_asked
    )
