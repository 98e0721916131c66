"""The season's page."""

from __future__ import annotations

from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.pages import Carried, render_page
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.strips import STRIP_HEAD, week_row
from steadyband.report.season.table import season_table
from steadyband.review.model import Review, Week
from steadyband.steptest.sentences import overrides_of


@as_the_athlete_reads
def history_page(season: Review, beside: Beside = ALONE) -> str:
    """The season as one HTML file: weeks as rows of small ribbons, tests as marks; `beside` as in `block_page`."""
    values: dict[str, object] = {
        "season": season,
        "made_for": "season",
        "rows": [week_row(row, season.longest_week_s, beside) for row in reversed(season.weeks)],
        "head": STRIP_HEAD,
        "swatches": swatches(item.strip for item in season.sessions),
        "table": season_table(season),
        "overrides": overrides_of(
            item for week in reversed(season.weeks) if isinstance(week, Week) for item in week.tests
        ),
    }
    return render_page("history.html.j2", Carried(styles=("review.css",)), values, beside)
