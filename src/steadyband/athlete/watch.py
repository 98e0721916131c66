"""Watching a folder by looking at sizes and times: a file counts once it has finished arriving."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from steadyband.athlete.folder import recordings_in

SETTLED_S = 2.0
"""Seconds for which size and time of a file must stay the same before it is read (design choice)."""
EVERY_S = 1.0
"""Seconds between two looks (design choice)."""
UNFINISHED = (".part", ".partial", ".crdownload", ".download", ".tmp")
"""Endings of files that are still being written (common practice, no source)."""

Stamp = tuple[int, int]


@dataclass(slots=True)
class Arrivals:
    """The files of a folder and since when each has been as it is; `poll` tells those that have just settled."""

    settled_s: float = SETTLED_S
    known: dict[Path, Stamp] = field(default_factory=dict)
    moving: dict[Path, tuple[Stamp, float]] = field(default_factory=dict)

    def begin(self, paths: Iterable[Path]) -> None:
        """What is there at the start is known and never reported unless it changes."""
        self.known = {path: stamp for path in paths if (stamp := stamp_of(path)) is not None}

    def poll(self, paths: Iterable[Path], now: float) -> tuple[Path, ...]:
        """The new or changed files that have been the same for `settled_s` seconds at `now` [s], in order."""
        seen = {path: stamp for path in paths if (stamp := stamp_of(path)) is not None and is_finished_name(path)}
        self.known = {path: stamp for path, stamp in self.known.items() if path in seen}
        fresh = {path: stamp for path, stamp in seen.items() if self.known.get(path) != stamp}
        self.moving = {path: self._since(path, stamp, now) for path, stamp in fresh.items()}
        settled = [path for path, (_, since) in self.moving.items() if now - since >= self.settled_s]
        for path in settled:
            self.known[path] = self.moving.pop(path)[0]
        return tuple(settled)

    def _since(self, path: Path, stamp: Stamp, now: float) -> tuple[Stamp, float]:
        before = self.moving.get(path)
        return before if before is not None and before[0] == stamp else (stamp, now)


def stamp_of(path: Path) -> Stamp | None:
    """Size [bytes] and modification time [ns] of a file, None where it has gone."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def is_finished_name(path: Path) -> bool:
    """False for names that programs give to files they are still writing."""
    return path.suffix.casefold() not in UNFINISHED


def watch(
    folder: Path,
    arrived: Callable[[Sequence[Path]], None],
    clock: Callable[[], float],
    sleep: Callable[[float], object],
    stopped: Callable[[], bool],
) -> None:
    """Calls `arrived` with the files of `folder` that have finished arriving, until `stopped`.

    `clock` tells seconds that never run back, `sleep` waits some of them. Files that are there at the start are known.
    Raises AthleteFileError where the folder is absent.
    """
    arrivals = Arrivals()
    arrivals.begin(recordings_in(folder))
    while not stopped():
        found = arrivals.poll(recordings_in(folder), clock())
        if found:
            arrived(found)
        sleep(EVERY_S)
