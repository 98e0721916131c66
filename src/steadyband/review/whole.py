"""A whole athlete folder from Python: its audits one after the other, and the review of one of its weeks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from steadyband.athlete.auditing import Place, Test, judged_by
from steadyband.athlete.folder import AthleteFolder, open_folder, recordings_in
from steadyband.athlete.season import Season, load_season
from steadyband.athlete.store import open_store
from steadyband.audit.model import Audit
from steadyband.review.model import Review
from steadyband.review.week import review_season


def season_of(folder: Place | AthleteFolder, test: Test | None = None) -> tuple[AthleteFolder, Season]:
    """The folder, by a test of one's own where one is given, and every session in it; what is known comes from its store.

    Raises UsageError where there is no athlete.toml, AthleteFileError and TestFileError where a file is faulty.
    """
    home = folder if isinstance(folder, AthleteFolder) else open_folder(folder)
    home = judged_by(home, test) if test is not None else home
    return home, load_season(recordings_in(home.athlete.activities), home, open_store(home))


def audits(folder: Place | AthleteFolder, *, test: Test | None = None) -> Iterator[Audit]:
    """Every session of an athlete folder, audited, in time order; one day's seconds are held at a time.

    With `test` (a file, a test, a zone set, `given_edges`) every session of its sport is judged by it, whatever the dates. Files
    that cannot be read are left out; `unreadable` lists them. Raises as `sessions` does.

    In the folder of the project:

    >>> sum(audit.verdict.in_band is True for audit in audits("demo_activities"))
    12
    """
    _, season = season_of(folder, test)
    for day in sorted({item.day for item in season.sessions}):
        yield from season.audits(day, day)


def review(folder: Place | AthleteFolder, ending: date | None = None, *, test: Test | None = None) -> Review:
    """The review of the week that holds `ending`, or of the latest week with a session, as `steadyband week` prints it.

    Raises NothingToReviewError where there is no session in the week, and as `sessions` does.

    In the folder of the project:

    >>> review("demo_activities", date(2026, 5, 17)).name
    '2026-W20'
    """
    home, season = season_of(folder, test)
    return review_season(home, season, ending)
