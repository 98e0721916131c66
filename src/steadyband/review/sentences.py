"""What the week review says, each sentence standing on numbers of the audits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import PurePath

from steadyband.athlete.model import Failure
from steadyband.audit.model import Audit, Finding, Quality
from steadyband.ground.units import age_text, duration_text, load_text
from steadyband.review.model import Advice, TestInForce
from steadyband.review.sharper import is_doubtful, settled_text
from steadyband.told.causes import listed
from steadyband.told.findings import finding_text, is_unsure_of, rank_of, words_of

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
TOLD = 2
"""Sessions out of the band that the answer names; one more is named too, rather than counted (design choice)."""

RETEST_NOTE = "common practice is to test again every 6 to 8 weeks while training changes"


def number_word(count: int) -> str:
    """0..12 as a word, larger numbers as digits."""
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def rise_text(before: float, after: float) -> str:
    """How much more, for people: a percentage up to half as much again, above that how many times.

    >>> rise_text(100, 120), rise_text(100, 260), rise_text(100, 962)
    ('20 % more', '2.6 times as much', '9.6 times as much')
    """
    ratio = after / before
    return f"{100 * (ratio - 1):.0f} % more" if ratio < 1.995 else f"{ratio:.1f}".removesuffix(".0") + " times as much"


def is_unsure(audit: Audit) -> bool:
    """True where the verdict's agreement is under the share that counts as sure."""
    agreement = audit.verdict.agreement
    return agreement is not None and agreement < audit.settings.verdict.unsure_below


def weekday(audit: Audit) -> str:
    """The local weekday a session began on."""
    return f"{audit.info.local_start:%A}"


def answer(judged: Sequence[Audit], held: int) -> str:
    """The week in a sentence or two: how many held, and what the others did."""
    if not judged:
        return "No endurance session could be judged this week."
    lead = _lead(len(judged), held) + _held_unsure(judged)
    lost = sorted((audit for audit in judged if audit.verdict.in_band is False), key=_weight)
    told = lost if len(lost) <= TOLD + 1 else lost[:TOLD]
    reasons = "; ".join(_reason(audit) for audit in told)
    more = len(lost) - len(told)
    rest = [f"{number_word(more).capitalize()} more left it too."] if more else []
    return " ".join([lead, *([f"{reasons}."] if reasons else []), *rest])


def _held_unsure(judged: Sequence[Audit]) -> str:
    unsure = sum(bool(audit.verdict.in_band) and is_unsure(audit) for audit in judged)
    verb = "is" if unsure == 1 else "are"
    return f" {number_word(unsure).capitalize()} that held {verb} unsure." if unsure else ""


def _lead(total: int, held: int) -> str:
    if total == 1:
        return f"The one endurance session {'held' if held else 'left'} the band."
    if held == total:
        return f"{'Both' if total == 2 else f'All {number_word(total)}'} endurance sessions held the band."
    count = number_word(held).capitalize() if held else "None"
    return f"{count} of {number_word(total)} endurance sessions held the band."


def _weight(audit: Audit) -> int:
    return min(rank_of(finding) for finding in audit.verdict.findings)


def _reason(audit: Audit) -> str:
    finding = min(audit.verdict.findings, key=rank_of)
    doubt = ", though unsure" if is_unsure_of(audit, finding) else ""
    return f"{weekday(audit)}'s {noun_of(audit)} {words_of(finding.code).did(audit)}{doubt}"


def noun_of(audit: Audit) -> str:
    """ride, run or session."""
    return {"cycling": "ride", "running": "run"}.get(audit.info.sport, "session")


def subline(week: int, first: date, last: date) -> str:
    """Which week."""
    return f"Week {week}, {first:%-d %B} to {last:%-d %B %Y}."


def test_notes(tests: Iterable[TestInForce]) -> tuple[str, ...]:
    """What the test says and how old it is, one sentence a sport."""
    return tuple(_test_note(item) for item in tests)


def _test_note(item: TestInForce) -> str:
    if item.zone_set is None or item.age_days is None:
        return f"{item.sport.capitalize()}: {item.reason or 'no usable test.'}"
    age = age_text(item.age_days)
    how_old = f"{'is ' if item.age_days else 'was '}{age} ({item.freshness})"
    if item.age_days < 0:
        how_old = f"was made {_days(-item.age_days)} after this time and judges the sessions before it"
    text = f"{item.sport.capitalize()}: the test of {item.zone_set.test.date:%-d %B %Y} {how_old}.{_same_day(item)}"
    override = item.zone_set.test.override
    return text + (f" It was overridden by name: {override}" if override else "")


def _same_day(item: TestInForce) -> str:
    return f" {said}" if (said := same_day_text(item)) else ""


def same_day_text(item: TestInForce) -> str:
    """Which of several tests of one day is used, and why; empty where there is one."""
    if item.zone_set is None or not item.same_day:
        return ""
    used, others = item.zone_set.test.file, item.same_day
    names = _join([other.test.file for other in others])
    if all(not other.usable for other in others):
        return f"{names} of the same day is blocked by its checks, so {used} is used."
    count = number_word(1 + len(others)).capitalize()
    return (
        f"{count} tests were made that day: {used} is used, the last by file name, not {names}. To use another, name it so that it "
        "comes last, or take the others out of the folder."
    )


def _days(number: int) -> str:
    return f"{number} day" if number == 1 else f"{number} days"


def changes(judged: Sequence[Audit]) -> tuple[Advice, ...]:
    """What to change, most telling finding first, at most three kinds; each names its sessions."""
    found = {finding.code: rank_of(finding) for audit in judged for finding in audit.verdict.findings}
    codes = sorted(found, key=lambda code: (found[code], code))
    return tuple(_change(code, [a for a in judged if _has(a, code)]) for code in codes[:3])


def _has(audit: Audit, code: str) -> bool:
    return any(finding.code == code for finding in audit.verdict.findings)


def _change(code: str, audits: Sequence[Audit]) -> Advice:
    """One kind of finding as a short imperative, by the numbers of the session it weighs most in, and where it was found."""
    words = words_of(code)
    ranked = sorted(audits, key=lambda audit: -weight_of(audit, code))
    worst, others = ranked[0], sorted(ranked[1:], key=lambda audit: audit.info.start)
    where = ": ".join(filter(None, (weekday(worst), words.where(worst))))
    also = f"; also {_join([weekday(audit) for audit in others])}" if others else ""
    return Advice(
        words.change(worst),
        f"{where}{also}.",
        {"sessions": len(audits)},
        behind=tuple(f"{weekday(audit)}: {finding_text(audit, _finding(audit, code))}" for audit in audits),
        starts=(worst.info.start,),
    )


def weight_of(audit: Audit, code: str) -> float:
    """How much of a finding a session holds, in the finding's own measure; 0 where that is not known."""
    if code == "surges":
        return float(audit.surges.count) if audit.surges else 0.0
    if code == "zone_3_drift":
        return float(audit.drift.load_longest_s) if audit.drift else 0.0
    if code == "too_high":
        return sum(audit.bands[name].share for name in ("heavy", "severe")) if audit.bands else 0.0
    return float(audit.seconds.active)


def _finding(audit: Audit, code: str) -> Finding:
    return next(finding for finding in audit.verdict.findings if finding.code == code)


def went_well(judged: Sequence[Audit]) -> tuple[Advice, ...]:
    """The sessions that held the band, with their time."""
    held = [audit for audit in judged if audit.verdict.in_band]
    if not held:
        return ()
    unsure = [weekday(audit) for audit in held if is_unsure(audit)]
    seconds = sum(audit.seconds.active for audit in held)
    days = _join([weekday(audit) for audit in held])
    verb = "held the band" if len(held) == 1 else "all held the band" if len(held) > 2 else "both held the band"
    return (
        Advice(
            f"{days} {verb}.",
            f"{duration_text(seconds)} of training where the test wanted it{_doubt(unsure)}.",
            {"seconds": seconds, "unsure": len(unsure)},
        ),
    )


def _doubt(unsure: Sequence[str]) -> str:
    return f"; of {_join(unsure)} the test is unsure" if unsure else ""


def _join(words: Sequence[str]) -> str:
    unique = list(dict.fromkeys(words))
    return unique[0] if len(unique) == 1 else f"{', '.join(unique[:-1])} and {unique[-1]}"


def decisions(tests: Iterable[TestInForce], judged: Sequence[Audit]) -> tuple[Advice, ...]:
    """What to decide before the next block: the test's age and quality, bands that are missing, sport by sport."""
    known = list(tests)
    if not known:
        text = "There is no step test in the athlete folder, and without one nothing can be judged: `steadyband plan-test` plans one."
        return (Advice("Test first.", text),)
    found = [advice for item in known for advice in _test_decisions(item)]
    found += [advice for item in known for advice in _sharp_enough(item, judged)]
    return tuple(found) or (
        Advice(
            "Nothing forces a decision.",
            "The tests are current and every band they need is there; plan as you meant to.",
            idle=True,
        ),
    )


def _sharp_enough(item: TestInForce, judged: Sequence[Audit]) -> Iterable[Advice]:
    """What a better test of a sport would settle, where verdicts of its sessions are in doubt."""
    doubtful = [audit for audit in judged if audit.info.sport == item.sport and is_doubtful(audit)]
    if doubtful:
        days = _join([weekday(audit) for audit in doubtful])
        text = f"The verdict on {days} rests on the scatter of the test. {settled_text(item, doubtful)}"
        yield Advice("Is the test sharp enough?", text.strip(), {"sessions": len(doubtful)})


def _test_decisions(item: TestInForce) -> Iterable[Advice]:
    sport = item.sport.capitalize()
    if item.zone_set is None or item.age_days is None:
        yield Advice(
            f"{sport}: test first.", f"{item.reason or 'There is no usable test.'} Without one nothing can be judged."
        )
        return
    if item.freshness != "current":
        text = f"It is {age_text(item.age_days)}; {RETEST_NOTE}."
        yield Advice(f"{sport}: is the test still true?", text, {"age_days": item.age_days})
    edges = item.zone_set.edges
    if edges.easy_empty:
        where = (
            "on the bike or on walking"
            if item.sport == "running"
            else "in another sport, or test again from a lower start"
        )
        yield Advice(
            f"{sport} has no easy band.", f"Every {_one(item.sport)} is at least steady: put easy volume {where}."
        )
    if edges.ceiling is None:
        text = f"The test ended at {load_text(edges.ceiling_at_least, item.zone_set.test.load_unit)} before the ceiling; one more step next time would find it."
        yield Advice(f"{sport}: the ceiling is open.", text)


def _one(sport: str) -> str:
    return {"cycling": "ride", "running": "run"}.get(sport, "session")


UNREADABLE_NAMED = 3
"""How many of the files that could not be read stand in the one line about them."""


def counted_files(count: int) -> str:
    """ "1 file" or "19 files"."""
    return f"{count:,} file{'' if count == 1 else 's'}"


def unreadable_line(failures: Sequence[Failure]) -> str:
    """One line on all files that could not be read: how many, and the first of them."""
    names = [PurePath(item.file).name for item in failures[:UNREADABLE_NAMED]]
    more = f" and {len(failures) - UNREADABLE_NAMED} more" if len(failures) > UNREADABLE_NAMED else ""
    return f"{counted_files(len(failures))} could not be read: {', '.join(names)}{more}."


def named_before_line(weeks: Iterable[tuple[str, int]]) -> str:
    """One line on files that an earlier page named."""
    told = [f"{counted_files(count)} on the page of {week}" for week, count in weeks]
    return f"Named before, still not readable: {' and '.join(told)}."


def left_out(audits: Sequence[Audit]) -> tuple[str, ...]:
    """Damage, and what was repaired or not judged, one line each."""
    lines: list[str] = []
    for audit in audits:
        lines += [f"{audit.info.file}: {part}" for part in _repairs(audit)]
    return tuple(lines)


def _repairs(audit: Audit) -> Iterable[str]:
    quality = audit.quality
    if quality.damage:
        yield quality.damage
    if quality.dropped:
        yield f"{quality.dropped} records left out (no time, or a time far from the file's own start)."
    yield from repair_words(quality)


def repair_words(quality: Quality) -> Iterable[str]:
    """What was repaired, a sentence each for the channels it happened to alike: "Held for 58 min: power and cadence."."""
    alike: dict[tuple[str, int], list[str]] = {}
    for repair in quality.repairs:
        alike.setdefault((repair.what, repair.count), []).append(_channel(repair.channel))
    for (what, count), channels in alike.items():
        told = listed(list(dict.fromkeys(filter(None, channels))))
        words = REPAIRS.get(what, what.replace("_", " "))
        yield f"{words} {_for(what, count)}: {told}." if told else f"{words}: {count:,}."


def _for(what: str, count: int) -> str:
    if what in COUNTED:
        return COUNTED[what].format(count=f"{count:,}", s="" if count == 1 else "s")
    return f"for {duration_text(count)}"


REPAIRS = {
    "held": "kept from the record before",
    "impossible": "left out as impossible",
    "jump": "a jump that nobody can have covered taken out",
}
COUNTED = {
    "impossible": "(too fast, too sudden or too far off), {count} record{s}",
    "jump": "{count} time{s}",
    "leap": "{count} time{s}",
}
"""Repairs that are counted, not timed."""
CHANNELS = {"lat_deg": "position", "lon_deg": "position"}


def _channel(name: str | None) -> str:
    return CHANNELS.get(name or "", (name or "").rsplit("_", 1)[0].replace("_", " "))
