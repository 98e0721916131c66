"""Many recordings at once: every core, one failure never stops the others."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from steadyband.audit.model import Audit
from steadyband.errors import RecordingError
from steadyband.review.folder import AthleteFolder
from steadyband.review.model import Failure
from steadyband.review.sessions import audit_file, in_time_order

PARALLEL_FROM = 6
"""Fewer files than this are read in one process: starting others would cost more (measured, see DEVELOPERS.md)."""


@dataclass(frozen=True, slots=True)
class Archive:
    """All audits in time order, and the files that could not be read."""

    audits: tuple[Audit, ...]
    failures: tuple[Failure, ...]


def audit_all(
    paths: Sequence[Path],
    folder: AthleteFolder,
    sport: str | None = None,
    done: Callable[[], None] = lambda: None,
) -> Archive:
    """Audits every file; `done` is called once a file. Faulty recordings become failures.

    Raises AthleteFileError where the athlete file does not fit the test.
    """
    work = partial(_audit_or_failure, folder=folder, sport=sport)
    if len(paths) < PARALLEL_FROM or (os.cpu_count() or 1) == 1:
        return _gather([_counted(work(path), done) for path in paths])
    with ProcessPoolExecutor() as pool:
        return _gather(_spread(pool, work, paths, done))


Outcome = tuple[Audit, ...] | Failure


def _audit_or_failure(path: Path, folder: AthleteFolder, sport: str | None) -> Outcome:
    try:
        return audit_file(path, folder, sport)
    except RecordingError as fault:
        return Failure(str(path), str(fault).removeprefix(f"{path.name}: "))


def _counted(outcome: Outcome, done: Callable[[], None]) -> Outcome:
    done()
    return outcome


def _spread(
    pool: Executor, work: Callable[[Path], Outcome], paths: Sequence[Path], done: Callable[[], None]
) -> list[Outcome]:
    jobs = [pool.submit(work, path) for path in paths]
    for _ in as_completed(jobs):
        done()
    return [job.result() for job in jobs]


def _gather(outcomes: Sequence[Outcome]) -> Archive:
    audits = [audit for outcome in outcomes if isinstance(outcome, tuple) for audit in outcome]
    return Archive(in_time_order(audits), tuple(item for item in outcomes if isinstance(item, Failure)))
