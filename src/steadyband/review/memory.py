"""A season kept in mind: a file is audited again only when it, the tests or the athlete's files changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from steadyband.audit.model import Audit
from steadyband.errors import RecordingError
from steadyband.review.condensed import Outcome, Season, gather
from steadyband.review.folder import AthleteFolder, recordings_in
from steadyband.review.history import monday_of
from steadyband.review.model import Failure, WeekReview
from steadyband.review.sessions import audit_file
from steadyband.review.watch import Stamp, fingerprint, is_finished_name, stamp_of
from steadyband.review.week import review_week

Known = tuple[tuple[Path, Stamp | None], ...]


@dataclass(slots=True)
class SeasonMemory:
    """Condensed sessions by file, good as long as athlete.toml, sessions.csv and the tests stay as they are."""

    told_by: Known = ()
    outcomes: dict[Path, tuple[Stamp | None, Outcome]] = field(default_factory=dict)

    def season(self, folder: AthleteFolder, condense: Callable[[Sequence[Path]], Season]) -> Season:
        """Every session of the folder; `condense` is called with the files that are new or changed."""
        self._forget_if_changed(folder)
        stamps = {path: stamp_of(path) for path in recordings_in(folder.athlete.activities) if is_finished_name(path)}
        fresh = [path for path, stamp in stamps.items() if self.outcomes.get(path, (None, None))[0] != stamp]
        self.outcomes = {path: known for path, known in self.outcomes.items() if path in stamps}
        if fresh:
            self._keep(fresh, stamps, condense(fresh))
        return gather([outcome for _, outcome in self.outcomes.values()])

    def _forget_if_changed(self, folder: AthleteFolder) -> None:
        now = fingerprint(told_by(folder))
        if now != self.told_by:
            self.told_by, self.outcomes = now, {}

    def _keep(self, fresh: Iterable[Path], stamps: dict[Path, Stamp | None], season: Season) -> None:
        failed = {Path(failure.file): failure for failure in season.failures}
        for path in fresh:
            sessions = tuple(item for item in season.sessions if item.path == path)
            self.outcomes[path] = (stamps[path], failed.get(path, sessions))

    def week(self, folder: AthleteFolder, season: Season, day: date) -> WeekReview:
        """The review of the week of `day`; only its files are audited again, for their arrays."""
        monday = monday_of(day)
        paths = sorted({item.path for item in season.sessions if item.path and monday_of(item.day) == monday})
        audits = [audit for path in paths for audit in _audits(path, folder)]
        return review_week(folder, audits, season.failures, day, season.sessions)


def _audits(path: Path, folder: AthleteFolder) -> tuple[Audit, ...]:
    try:
        return audit_file(path, folder)
    except RecordingError:
        return ()


def told_by(folder: AthleteFolder) -> list[Path]:
    """The files beside the recordings that an audit depends on."""
    tests = sorted(folder.athlete.tests.rglob("*")) if folder.athlete.tests.is_dir() else []
    return [folder.path / "athlete.toml", folder.path / "sessions.csv", *tests]


def weeks_of(season: Season, paths: Iterable[Path]) -> tuple[date, ...]:
    """The Mondays of the weeks that the sessions of some files belong to."""
    wanted = set(paths)
    return tuple(sorted({monday_of(item.day) for item in season.sessions if item.path in wanted}))


def failures_of(season: Season, paths: Iterable[Path]) -> tuple[Failure, ...]:
    """Those of some files that could not be read."""
    wanted = {str(path) for path in paths}
    return tuple(item for item in season.failures if item.file in wanted)
