"""The season: all sessions week by week."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from steadyband.athlete.condensed import Condensed, in_order
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import Failure
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.ground.errors import NothingToReviewError
from steadyband.recording.formats import formats_text
from steadyband.review.hours import monday_of, week_of
from steadyband.review.model import Gap, Review, Week
from steadyband.steptest import ZoneSet


@as_the_athlete_reads
def history(folder: AthleteFolder, sessions: Sequence[Condensed], failures: Sequence[Failure] = ()) -> Review:
    """All sessions and tests week by week, earliest first; longer breaks are one gap.

    Raises NothingToReviewError where there is no session.
    """
    if not sessions:
        raise NothingToReviewError(
            "no session could be read.", hint=f"Put {formats_text()} recordings into activities/."
        )
    chosen = in_order(sessions)
    judged = [item for item in chosen if item.audit.verdict.in_band is not None]
    held = sum(item.audit.verdict.in_band is True for item in judged)
    return Review(
        athlete=folder.athlete,
        first_day=chosen[0].day,
        last_day=chosen[-1].day,
        weeks=tuple(_rows(chosen, folder.zone_sets, folder.athlete.settings.block.gap_weeks)),
        judged=len(judged),
        held=held,
        answer=_answer(chosen, len(judged), held),
        failures=tuple(failures),
    )


def _rows(sessions: Sequence[Condensed], tests: Sequence[ZoneSet], gap_weeks: int) -> Iterable[Week | Gap]:
    mondays = sorted({monday_of(item.day) for item in sessions} | {monday_of(item.test.date) for item in tests})
    before: date | None = None
    for monday in mondays:
        if before is not None:
            yield from _between(before, monday, gap_weeks)
        yield week_of(monday, sessions, tests)
        before = monday


def _between(before: date, monday: date, gap_weeks: int) -> Iterable[Week | Gap]:
    empty = (monday - before).days // 7 - 1
    if empty > gap_weeks:
        yield Gap(before + timedelta(weeks=1), monday - timedelta(days=1), empty)
        return
    for number in range(1, empty + 1):
        yield week_of(before + timedelta(weeks=number), (), ())


def _answer(sessions: Sequence[Condensed], judged: int, held: int) -> str:
    count = f"{len(sessions)} session" + ("" if len(sessions) == 1 else "s")
    first, last = sessions[0].day, sessions[-1].day
    span = f"from {first:%-d %B %Y} to {last:%-d %B %Y}" if first != last else f"on {first:%-d %B %Y}"
    if not judged:
        return f"{count} {span}; none of them could be judged."
    return f"{held} of {judged} endurance sessions held the band, in {count} {span}."
