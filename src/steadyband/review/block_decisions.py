"""What to decide before the next block, each with what would change the mind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from steadyband.athlete.condensed import Condensed
from steadyband.ground.settings import BlockSettings
from steadyband.ground.units import age_text, load_text
from steadyband.review.block_drift import Creep, LevelTrend
from steadyband.review.drift_sentences import level_text, sport_words, trend_text
from steadyband.review.fit_of_test import TestFit
from steadyband.review.model import Advice, TestInForce
from steadyband.review.sentences import RETEST_NOTE, number_word
from steadyband.review.sharper import is_doubtful, settled_text

CAUTION = "a test is hard work: screening by your physician and local practice come first"


def decisions(
    sessions: Sequence[Condensed],
    tests: Sequence[TestInForce],
    drift: tuple[Sequence[Creep], Sequence[LevelTrend]],
    fits: Sequence[TestFit],
    limits: BlockSettings,
) -> tuple[Advice, ...]:
    """The decisions that the block's numbers ask for, most pressing first."""
    found = [
        *(item for test in tests for item in _test(test, fits)),
        *_creep(*drift),
        *(item for test in tests for item in _bands(test)),
        *_habit(sessions),
        *(item for test in tests for item in _unsure(sessions, test, limits.unsure_share)),
    ]
    doubts = [item.text for test in tests for item in _unsure(sessions, test, 0.0)]
    return tuple(found[: limits.decisions]) or (
        _advice(
            "Nothing forces a decision.",
            " ".join(
                (
                    "The tests are current and fit, the load did not creep, and every band is there: plan as you meant to.",
                    *doubts,
                )
            ),
            "A sign in the next block: a session out of the band twice in a row, or heart rate off the test's.",
        ),
    )


def _test(item: TestInForce, fits: Sequence[TestFit]) -> Iterable[Advice]:
    sport = sport_words(item.sport)
    if item.zone_set is None or item.age_days is None:
        reason = item.reason or "there is no usable test"
        yield _advice(
            f"{sport}: test before the block?",
            f"{reason[:1].upper()}{reason[1:].rstrip('.')}: nothing in {item.sport} can be judged. Before testing, {CAUTION}.",
            "No training in this sport is planned.",
        )
        return
    fit = next((fit for fit in fits if fit.sport == item.sport), None)
    shifted = fit is not None and fit.fit in ("fitter than the test", "tired, hot or ill")
    if fit is not None and shifted:
        yield _by_evidence(sport, fit, item)
    elif item.freshness != "current":
        yield _advice(
            f"{sport}: test again?",
            f"The test is {age_text(item.age_days or 0)} ({item.freshness}); {RETEST_NOTE}. {CAUTION[:1].upper()}{CAUTION[1:]}.",
            "Training has not changed, and heart rate at the same load still sits where the test had it.",
            {"age_days": item.age_days},
        )


def _by_evidence(sport: str, fit: TestFit, item: TestInForce) -> Advice:
    numbers = {f"shift_{group.place}_bpm": group.mean for group in fit.intervals} | {"age_days": item.age_days or 0}
    if fit.fit == "fitter than the test":
        unless = "The lower heart rate comes with heavy legs and poor sleep: then it may be deep tiredness; rest first."
        return _advice(
            f"{sport}: test again, you may be fitter.", f"The test no longer fits: {fit.reason}.", unless, numbers
        )
    unless = "Heart rate comes back within a week of rest or cooler days: then the test stands. If you feel ill, ask a physician."
    return _advice(
        f"{sport}: rest first, then test again?", f"Heart rate runs above the test: {fit.reason}.", unless, numbers
    )


def _creep(creeps: Sequence[Creep], trends: Sequence[LevelTrend]) -> Iterable[Advice]:
    ups = {creep.began.audit.info.sport: creep for creep in creeps if creep.side == "up"}
    for sport, creep in ups.items():
        audit = creep.raised.audit
        yield _advice(
            f"{sport_words(sport)}: cap the average?",
            f"It has crept from {level_text(audit, creep.level_before)} to {level_text(audit, creep.level_since)}; going back to "
            f"{level_text(audit, creep.level_before)} on endurance days keeps the room to the target top of {level_text(audit, 1.0)}.",
            "A new test moves the target top, or the rise was meant.",
            {"level_before": creep.level_before, "level_since": creep.level_since},
        )
    for trend in trends:
        if trend.raised and trend.sport not in ups:
            audit = trend.sessions[-1].audit
            yield _advice(
                f"{sport_words(trend.sport)}: hold the level of {level_text(audit, trend.first_level)}?",
                f"{trend_text(trend)} The target top is {level_text(audit, 1.0)}.",
                "The next three sessions fall back to the earlier level, or heart rate at the same load has come down.",
                {"per_week": trend.per_week, "low": trend.low, "high": trend.high},
            )


def _bands(item: TestInForce) -> Iterable[Advice]:
    if item.zone_set is None:
        return
    edges, sport = item.zone_set.edges, sport_words(item.sport)
    if edges.easy_empty:
        where = "bike or walk" if item.sport == "running" else "another sport"
        yield _advice(
            f"{sport}: where does easy volume go?",
            f"The test found no easy {item.sport}; {where} for it, and count every session here as steady.",
            "A test that starts lower finds flat steps first.",
        )
    if edges.ceiling is None:
        least = load_text(edges.ceiling_at_least, item.zone_set.test.load_unit)
        yield _advice(
            f"{sport}: find the ceiling?",
            f"The test ended at {least} before reaching it: heavy time and surges cannot be told until one more step is ridden or run.",
            "All training stays well below the last load tested.",
        )


def _habit(sessions: Sequence[Condensed]) -> Iterable[Advice]:
    judged = [item.audit for item in sessions if item.audit.verdict.in_band is not None]
    lost = [
        audit
        for audit in judged
        if any(finding.code in ("surges", "too_high", "zone_3_drift") for finding in audit.verdict.findings)
    ]
    if len(judged) >= 4 and len(lost) * 2 >= len(judged):
        yield _advice(
            "Lower the aim, or the hills?",
            f"{number_word(len(lost)).capitalize()} of {number_word(len(judged))} endurance sessions went above the band: aim at the floor instead of the target top, or choose flatter roads.",
            "Those sessions were meant hard: label them, and they no longer count.",
            {"above": len(lost), "judged": len(judged)},
        )


def _unsure(sessions: Sequence[Condensed], item: TestInForce, least_share: float) -> Iterable[Advice]:
    """What a better test of a sport would settle, where at least this share of its verdicts is in doubt."""
    audits = [found.audit for found in sessions if found.audit.info.sport == item.sport]
    judged = [audit for audit in audits if audit.verdict.in_band is not None]
    unsure = [audit for audit in judged if is_doubtful(audit)]
    if unsure and len(unsure) / len(judged) >= least_share:
        count = f"{number_word(len(unsure)).capitalize()} of {number_word(len(judged))}"
        kind = "verdict rests" if len(judged) == 1 else "verdicts rest" if len(unsure) > 1 else "verdicts rests"
        yield _advice(
            f"{sport_words(item.sport)}: is the test sharp enough?",
            f"{count} {kind} on the scatter of the test. {settled_text(item, unsure)}".strip(),
            "The sessions in doubt do not matter to the plan.",
            {"unsure": len(unsure), "judged": len(judged)},
        )


def _advice(head: str, text: str, unless: str, numbers: Mapping[str, float] | None = None) -> Advice:
    return Advice(head, text, numbers or {}, unless)
