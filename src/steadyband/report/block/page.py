"""The page of a block of weeks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.report.block import view as review_view
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.pages import Carried, render_page
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.strips import STRIP_HEAD, week_row
from steadyband.report.common.words import span_text
from steadyband.report.test.view import test_view
from steadyband.review.block_model import BlockReview
from steadyband.review.history import HistoryWeek, monday_of


@as_the_athlete_reads
def block_page(review: BlockReview, beside: Beside = ALONE) -> str:
    """The block review as one HTML file that needs no network; `beside` says what it may count on in its folder."""
    charts = review_view.chart_plots(review)
    hours, durability = review_view.hours_plot(review), review_view.durability_plot(review)
    plots = [item for item in (hours, *(chart for _, chart in charts), durability) if item is not None]
    longest = longest_strip(review.sessions)
    values: dict[str, object] = {
        "review": review,
        "made_for": f"block {review.first_day} {review.last_day}",
        "dates": span_text(review.first_day, review.last_day),
        "rows": [week_row(row, longest, beside) for row in block_rows(review)],
        "head": STRIP_HEAD,
        "swatches": swatches(item.strip for item in review.sessions),
        "hours": hours,
        "charts": charts,
        "durability": durability,
        "tables": {
            "weeks": review_view.weeks_table(review),
            "sessions": review_view.sessions_table(review.sessions),
            "distribution": review_view.distribution_table(review),
            "fit": review_view.fit_table(review),
            "plan": review_view.plan_table(review.weeks),
        },
        "tests": [test_view(item) for item in review.tests],
    }
    return render_page("block.html.j2", Carried(plots, styles=("review.css",)), values, beside)


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
