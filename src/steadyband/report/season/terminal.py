"""What `history` prints."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from steadyband.ground.units import duration_text
from steadyband.report.common.fitted import printable
from steadyband.report.common.terminal import heading, paragraphs
from steadyband.review.model import Gap, Review, Week
from steadyband.steptest.sentences import overrides_of


def history_view(season: Review) -> RenderableType:
    """The season, one line a week, latest first."""
    lines = [_week(row) for row in reversed(season.weeks)]
    notes = overrides_of(item for week in reversed(season.weeks) if isinstance(week, Week) for item in week.tests)
    return Group(heading(season.answer), *paragraphs(notes), Text(), *lines, Text())


def _week(row: Week | Gap) -> Text:
    if isinstance(row, Gap):
        return Text(f"          {row.weeks} weeks without a session", style="dim")
    if not row.sessions and not row.tests:
        return Text(f"{row.name}  no session", style="dim")
    held = f"{row.held} of {row.judged} held" if row.judged else "none judged" if row.sessions else "no session"
    tests = "".join(f"  ◆ {item.test.sport} test" for item in row.tests)
    count = f"{len(row.sessions)} session" + ("" if len(row.sessions) == 1 else "s")
    return Text(printable(f"{row.name}  {duration_text(row.active_s):>9}  {count:>11}  {held}{tests}"))
