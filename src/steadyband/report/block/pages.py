"""The pages of the block review and of the season, on the same base as the week's page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.report.block import view as review_view
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.pages import Carried, render_page
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.strips import STRIP_HEAD, week_row
from steadyband.report.common.view import Plot
from steadyband.report.common.words import span_text
from steadyband.report.test.view import test_view
from steadyband.report.week.view import CAUTIONS
from steadyband.review.block_model import BlockReview
from steadyband.review.history import History, HistoryWeek, monday_of
from steadyband.steptest.sentences import overrides_of


@as_the_athlete_reads
def block_page(review: BlockReview, beside: Beside = ALONE) -> str:
    """The block review as one HTML file that needs no network; `beside` says what it may count on in its folder."""
    charts = review_view.chart_plots(review)
    hours, durability = review_view.hours_plot(review), review_view.durability_plot(review)
    plots = [item for item in (hours, *(chart for _, chart in charts), durability) if item is not None]
    longest = longest_strip(review.sessions)
    return _render(
        "block.html.j2",
        plots,
        beside,
        review=review,
        made_for=f"block {review.first_day} {review.last_day}",
        dates=span_text(review.first_day, review.last_day),
        rows=[week_row(row, longest, beside) for row in block_rows(review)],
        head=STRIP_HEAD,
        swatches=swatches(item.strip for item in review.sessions),
        hours=hours,
        charts=charts,
        durability=durability,
        tables={
            "weeks": review_view.weeks_table(review),
            "sessions": review_view.sessions_table(review.sessions),
            "distribution": review_view.distribution_table(review),
            "fit": review_view.fit_table(review),
            "plan": review_view.plan_table(review.weeks),
        },
        tests=[test_view(item) for item in review.tests],
    )


def longest_strip(sessions: Sequence[Condensed]) -> int:
    """Seconds of the longest session, the width of a full strip."""
    return max((60 * len(item.strip) for item in sessions), default=60)


def block_rows(review: BlockReview) -> list[HistoryWeek]:
    """The weeks of a block as the season page draws them, earliest first."""
    return [
        HistoryWeek(
            iso_year=week.iso_year,
            iso_week=week.iso_week,
            first_day=week.first_day,
            sessions=tuple(item for item in review.sessions if monday_of(item.day) == week.first_day),
            tests=tuple(
                item.zone_set
                for item in review.tests
                if item.zone_set and week.first_day <= item.zone_set.test.date < week.first_day + timedelta(weeks=1)
            ),
            hours=tuple(item.hours for item in week.sports),
            judged=week.judged,
            held=week.held,
            active_s=week.active_s,
        )
        for week in review.weeks
    ]


@as_the_athlete_reads
def history_page(season: History, beside: Beside = ALONE) -> str:
    """The season as one HTML file: weeks as rows of small ribbons, tests as marks; `beside` as in `block_page`."""
    sessions = [item for week in season.weeks for item in week.sessions]
    return _render(
        "history.html.j2",
        [],
        beside,
        season=season,
        made_for="season",
        rows=[week_row(row, season.longest_s, beside) for row in season.rows],
        head=STRIP_HEAD,
        swatches=swatches(item.strip for item in sessions),
        table=review_view.season_table(season),
        overrides=overrides_of(item for week in season.weeks for item in week.tests),
    )


def _render(template: str, plots: Sequence[Plot], beside: Beside, **content: Any) -> str:
    values = {"cautions": CAUTIONS, **content}
    return render_page(template, Carried(plots, styles=("review.css",)), values, beside)
