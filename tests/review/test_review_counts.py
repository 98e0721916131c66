"""Every sentence of week and block with none, one and many of what it counts: number and noun agree, nothing of nothing is told."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from many_sessions import audit, folder, session

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.model import Failure
from steadyband.audit.model import CAUSES, Surges
from steadyband.ground.units import age_text, brief_text, counted, duration_text
from steadyband.report.common.sheet import sheet
from steadyband.review.block import review_block
from steadyband.review.model import Review
from steadyband.review.week import review_week
from steadyband.told.causes import advice_text, causes_text
from steadyband.told.findings import WORDS

MONDAY = date(2026, 1, 12)
MANY = (0, 1, 2, 13)
AT_ODDS = re.compile(
    r"\b(?:1|[Oo]ne) (?:sessions|rides|runs|surges|efforts|files|recordings|weeks|days|hours|verdicts|micro-surges|sustained efforts)\b(?! of)"
    r"|\b(?:0|2|13|two|thirteen) (?:session|ride|run|surge|effort|file|recording|week|day|hour|verdict|micro-surge|sustained effort)\b(?!-)"
    r"|\b[Nn]one? of (?:no|none)\b|\b[Nn]o of \w|\bof 0\b|\bafter none judged after\b|\bnan\b|\+\d{3,} %| {2}|\.\."
)
"""Number and noun at odds, shares of nothing, increases beyond all sense, holes left by empty words."""


def told(review: Review) -> str:
    """Every sentence of a review, and of its sheet."""
    front = sheet(review)
    advices = (
        *review.changes,
        *review.went_well,
        *review.decisions,
        *review.creeps,
        *review.limiters,
        *review.questions,
    )
    lines = [review.answer, review.subline, *review.since_last_week, front.sure, front.counted]
    lines += [text for item in advices for text in (item.head, item.text, item.unless, *item.behind)]
    lines += [text for lines_of in review.notes.values() for text in lines_of]
    lines += [item.text for item in review.durability] + [f"{item.head} {item.text}" for item in front.changes]
    return "\n".join(lines)


def some(count: int, first: date, *, minutes: int = 90, code: str = "") -> list[Condensed]:
    return [
        session(first + timedelta(days=number % 6), hour=6 + number, minutes=minutes, in_band=not code,
                codes=(code,) if code else (), hr_drift=6.0 if code == "heart_rate_drift" else 2.0)
        for number in range(count)
    ]  # fmt: skip


@pytest.mark.parametrize("held", MANY)
@pytest.mark.parametrize("left", MANY)
@pytest.mark.parametrize("before", [0, 1, 13])
def test_a_week_of_so_many(tmp_path: Path, held: int, left: int, before: int) -> None:
    now = [*some(held, MONDAY + timedelta(days=7)), *some(left, MONDAY + timedelta(days=7), code="too_high")]
    if not now:
        return
    failures = [Failure(f"{number}.fit", "cut") for number in range(left)]
    weeks = [*some(before, MONDAY, minutes=125), *now]
    text = told(review_week(folder(tmp_path), [item.audit for item in now], failures, season=weeks))
    assert not AT_ODDS.search(text), (AT_ODDS.search(text), text)


@pytest.mark.parametrize("count", MANY[1:])
@pytest.mark.parametrize("code", ["", "too_high", "heart_rate_drift", "too_low"])
def test_a_block_of_so_many(tmp_path: Path, count: int, code: str) -> None:
    weeks = [*some(count, MONDAY, code=code), *some(13, MONDAY + timedelta(days=7), minutes=200)]
    text = told(review_block(folder(tmp_path), weeks, weeks=2))
    assert not AT_ODDS.search(text), (AT_ODDS.search(text), text)


@pytest.mark.parametrize("code", WORDS)
def test_every_change_is_one_short_line_with_its_place(code: str) -> None:
    """An imperative of at most a dozen words, and where it was found."""
    words, found = WORDS[code], audit(MONDAY, in_band=False, codes=(code,), hr_drift=6.0)
    change = words.change(found)
    assert change.endswith(".")
    assert change[0].isupper()
    assert len(change.split()) <= 13, change
    if code != "not_judged":
        assert words.where(found)
    assert not AT_ODDS.search("\n".join((change, words.where(found), words.did(found))))


@pytest.mark.parametrize("count", MANY)
@pytest.mark.parametrize("forced", [None, 0, 1])
@pytest.mark.parametrize("cause", CAUSES)
def test_surges_of_one_cause(count: int, forced: int | None, cause: str) -> None:
    found = Surges(count, count, 0, float(count), 10 * count, 0.1, 1.0, forced, {cause: count}, (), 0.0, 0.0, ())
    if forced is not None and forced > count:
        return
    text = f"{causes_text(found, 3)} {advice_text(found, False)}".strip()
    assert not AT_ODDS.search(text), text
    ride = audit(MONDAY, in_band=False, codes=("surges",))
    assert not AT_ODDS.search(WORDS["surges"].where(replace(ride, surges=found)))


@pytest.mark.parametrize("number", [*MANY, 59, 60, 61, 119, 120, 599, 600, 3599, 3600, 7260])
def test_numbers_and_durations(number: int) -> None:
    texts = (counted(number, "surge"), duration_text(number), brief_text(number), age_text(number), age_text(-number))
    assert not AT_ODDS.search("\n".join(texts)), texts
