"""The week's report as one HTML file."""

from __future__ import annotations

from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.report.common.beside import ALONE, Beside, session_names
from steadyband.report.common.figure_base import longest_of
from steadyband.report.common.glossary import terms
from steadyband.report.common.left_out import files_lines
from steadyband.report.common.own_words import Told, told
from steadyband.report.common.page_ribbon import axis_marks
from steadyband.report.common.pages import Carried, render_page
from steadyband.report.common.ribbon import swatches
from steadyband.report.common.sheet import sheet
from steadyband.report.common.words import ribbon_keys, share_text, span_text
from steadyband.report.session.view import session_view
from steadyband.report.test.view import test_view
from steadyband.report.week import view as week_view
from steadyband.review.model import Review


@as_the_athlete_reads
def week_page(review: Review, beside: Beside = ALONE) -> str:
    """The week's report as one HTML file that needs no network.

    Every text is escaped by the template engine; a content security policy forbids every load and every script but
    those that the page carries. `beside` says what it may count on in its folder: a shared copy of plotly, other pages.
    """
    longest = longest_of(review.audits)
    sessions = [session_view(audit, number, longest) for number, audit in enumerate(review.audits, 1)]
    hours = week_view.hours_plot(review)
    values = {
        "review": review,
        "files": files_lines(review),
        "made_for": f"week {review.name}",
        "dates": span_text(review.first_day, review.last_day),
        "sessions": sessions,
        "told": [told(words) for words in review.words_told],
        "week_told": Told(note=tuple(review.week_note.splitlines())),
        "own": dict(
            zip((item.id for item in sessions), map(beside.session, session_names(review.audits)), strict=True)
        ),
        "swatches": swatches(audit.traces.ribbon for audit in review.audits),
        **ribbon_keys(review.audits, review.athlete.settings),
        "marks": axis_marks(longest),
        "hours": hours,
        "sheet": sheet(review),
        "terms": terms(review.athlete.settings, {"agreement": "Agreement", "target top": "average"}),
        "tables": week_view.tables(review),
        "tests": [test_view(item) for item in review.tests],
        "window": review.athlete.settings.bands.window_s,
        "range": share_text(review.athlete.settings.steptest.range_share),
    }
    plots = [*([hours] if hours else []), *(item.plot for item in sessions if item.plot)]
    return render_page("week.html.j2", Carried(plots, [item.ribbon for item in sessions]), values, beside)
