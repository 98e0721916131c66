"""The page of a block of weeks."""

from __future__ import annotations

from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.report.block import view as review_view
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.glossary import terms
from steadyband.report.common.left_out import files_lines
from steadyband.report.common.pages import Carried, render_page
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.sheet import sheet
from steadyband.report.common.strips import STRIP_HEAD, week_row
from steadyband.report.common.words import span_text
from steadyband.report.test.view import test_view
from steadyband.review.model import Review


@as_the_athlete_reads
def block_page(review: Review, beside: Beside = ALONE) -> str:
    """The block review as one HTML file that needs no network; `beside` says what it may count on in its folder."""
    charts = review_view.chart_plots(review)
    hours, durability = review_view.hours_plot(review), review_view.durability_plot(review)
    plots = [item for item in (hours, *(chart for _, chart in charts), durability) if item is not None]
    values: dict[str, object] = {
        "review": review,
        "files": files_lines(review),
        "made_for": f"block {review.first_day} {review.last_day}",
        "dates": span_text(review.first_day, review.last_day),
        "rows": [week_row(row, review.longest_week_s, beside) for row in review.weeks],
        "head": STRIP_HEAD,
        "swatches": swatches(item.strip for item in review.sessions),
        "sheet": sheet(review),
        "terms": terms(review.athlete.settings, {"target top": "average"}),
        "hours": hours,
        "charts": charts,
        "durability": durability,
        "tables": {
            "weeks": review_view.weeks_table(review),
            "sessions": review_view.sessions_table(review.sessions),
            "distribution": review_view.distribution_table(review),
            "fit": review_view.fit_table(review),
            "plan": review_view.plan_table(review_view.weeks_of(review)),
        },
        "tests": [test_view(item) for item in review.tests],
    }
    return render_page("block.html.j2", Carried(plots, styles=("review.css",)), values, beside)
