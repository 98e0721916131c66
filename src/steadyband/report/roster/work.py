"""The work on one athlete of a roster: the season, the athlete's own page, and what the roster shows of it."""

from __future__ import annotations

from collections.abc import Generator, Iterable
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache, partial
from pathlib import Path

from steadyband.athlete.cluster import DaskExecutor
from steadyband.athlete.executor import Executor, Here
from steadyband.athlete.folder import AthleteFolder, open_folder, recordings_in
from steadyband.athlete.parallel import spread_apart
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.athlete.season import load_season
from steadyband.athlete.store import open_store
from steadyband.athlete.watch import is_finished_name
from steadyband.ground.errors import ExecutorError, SteadybandError
from steadyband.report.common.beside import beside
from steadyband.report.common.strips import WeekRow, week_row
from steadyband.report.week.files import write_week
from steadyband.review.model import Review
from steadyband.review.repeat_climbs import repeat_climbs
from steadyband.review.roster import day_to_review, entry_of, unusable, without_sessions
from steadyband.review.roster_folders import Home
from steadyband.review.roster_model import RosterEntry
from steadyband.review.week import review_season

SCALE_S = 6000
"""Length [s] that fills a day's cell in a row as it is made; the page scales all rows to the longest session of all."""


@dataclass(frozen=True, slots=True)
class Task:
    """How the athletes are worked on: the week, the roster page's place, whether pages share plotly, and where recordings
    are audited (the scheduler of a Dask cluster, or empty for the process at work)."""

    ending: date | None
    page: Path
    shared_assets: bool = False
    dask: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """One athlete, done: the entry, the week as small ribbons and their longest [s], the codes they show, notices on the store."""

    entry: RosterEntry
    row: WeekRow | None = None
    longest_s: int = 0
    codes: frozenset[int] = frozenset()
    notices: tuple[str, ...] = ()


def look_after(home: Home, task: Task, executor: Executor | None = None) -> Seen:
    """Read and audit what is new in one athlete folder, write the page of the week, and condense it for the roster.

    Recordings are audited through `executor`, otherwise where `task` says. A faulty folder is what is seen, not an error;
    raises ExecutorError where the executor cannot do the work.
    """
    if home.fault:
        return Seen(unusable(home, home.fault))
    try:
        return _looked_after(home, task, executor or _executor(task.dask))
    except ExecutorError:
        raise
    except SteadybandError as refused:
        return Seen(unusable(home, str(refused)))


@lru_cache(maxsize=1)
def _executor(address: str) -> Executor:
    return DaskExecutor(address) if address else Here()


def _looked_after(home: Home, task: Task, executor: Executor) -> Seen:
    folder = open_folder(home.path)
    paths = [path for path in recordings_in(folder.athlete.activities) if is_finished_name(path)]
    season = load_season(paths, folder, open_store(folder), executor=executor)
    day = day_to_review([item.day for item in season.sessions], task.ending)
    if day is None:
        return Seen(without_sessions(home, folder, season), notices=season.notices)
    review = review_season(folder, season, day)
    page = write_week(review, repeat_climbs(item.audit for item in season.sessions), task.shared_assets)
    return Seen(
        entry=entry_of(folder, home, season, review, page),
        row=_row(folder, review, task.page),
        longest_s=review.longest_s,
        codes=frozenset(int(code) for item in review.sessions for code in item.strip),
        notices=season.notices,
    )


@as_the_athlete_reads
def _row(folder: AthleteFolder, review: Review, page: Path) -> WeekRow:
    return week_row(review.weeks[0], SCALE_S, replace(beside(folder.athlete.reports, page), links=()))


def look_after_all(homes: Iterable[Home], task: Task, processes: int | None = None) -> Generator[Seen]:
    """Every athlete as they are done, in no given order, each worked on in one of several processes.

    A process that is ended from outside costs nothing but time; an athlete whose work ends two of them, or that meets a
    fault nobody thought of, is seen as one whose folder could not be used. Raises ExecutorError.
    """
    for home, seen in spread_apart(partial(look_after, task=task), homes, processes):
        if isinstance(seen, ExecutorError):
            raise seen
        yield Seen(unusable(home, _sentence(home, seen))) if isinstance(seen, BaseException) else seen


def _sentence(home: Home, fault: BaseException) -> str:
    more = f"Run steadyband week {home.path} to see more."
    if isinstance(fault, BrokenProcessPool):
        return f"The process that worked on this folder was ended from outside, twice (too little memory?). {more}"
    said = (str(fault).strip().splitlines() or ["no message"])[0]
    return f"The work on this folder ended with a fault nobody thought of ({type(fault).__name__}: {said}). {more}"
