"""Which week is reviewed, and what the review says of the demo."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyband.ground.errors import NothingToReviewError
from steadyband.review.sentences import number_word
from steadyband.review.week import iso_week, week_to_review


@given(st.dates(date(1990, 1, 1), date(2060, 12, 31)))
def test_iso_weeks_as_pandas_counts_them(day: date) -> None:
    """Reference library: pandas 3.1, Timestamp.isocalendar."""
    reference = pd.Timestamp(day).isocalendar()
    assert iso_week(day) == (reference.year, reference.week)


@pytest.mark.parametrize(
    ("day", "week"),
    [
        # Published: ISO 8601, from memory: week 1 holds the first Thursday; 2020 and 2026 have 53 weeks.
        (date(2020, 12, 31), (2020, 53)),
        (date(2021, 1, 3), (2020, 53)),
        (date(2024, 12, 30), (2025, 1)),
        (date(2026, 12, 31), (2026, 53)),
        (date(2027, 1, 1), (2026, 53)),
    ],
)
def test_iso_weeks_at_the_turn_of_the_year(day: date, week: tuple[int, int]) -> None:
    assert iso_week(day) == week


def test_latest_week_or_the_one_asked_for() -> None:
    days = [date(2026, 5, 3), date(2026, 5, 14)]
    assert week_to_review(days, None) == (2026, 20)
    assert week_to_review(days, date(2026, 4, 29)) == (2026, 18)
    with pytest.raises(NothingToReviewError, match="2026-05-14"):
        week_to_review(days, days[1] + timedelta(days=30))
    with pytest.raises(NothingToReviewError, match="activities"):
        week_to_review([], None)


def test_number_words() -> None:
    assert [number_word(count) for count in (0, 1, 12, 13)] == ["no", "one", "twelve", "13"]
