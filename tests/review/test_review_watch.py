"""Watching a folder, with a clock that is moved by hand."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from steadyband.athlete.watch import Arrivals, watch
from steadyband.ground.errors import AthleteFileError


class Hands:
    """A clock whose every sleep does the next thing of a list, then stops."""

    def __init__(self, *doings: Callable[[], object]) -> None:
        self.now, self.doings = 100.0, list(doings)

    def clock(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds
        if self.doings:
            self.doings.pop(0)()

    def stopped(self) -> bool:
        return not self.doings


def nothing() -> None:
    """A second in which nothing happens."""


def watched(folder: Path, *doings: Callable[[], object]) -> list[list[str]]:
    hands = Hands(*doings)
    seen: list[list[str]] = []
    watch(folder, lambda paths: seen.append([path.name for path in paths]), hands.clock, hands.sleep, hands.stopped)
    return seen


def test_a_new_file_is_reported_once_when_it_has_settled(tmp_path: Path) -> None:
    ride = tmp_path / "ride.fit"
    seen = watched(tmp_path, lambda: ride.write_bytes(b"x"), nothing, nothing, nothing, nothing, nothing)
    assert seen == [["ride.fit"]]


def test_a_file_that_grows_waits(tmp_path: Path) -> None:
    ride = tmp_path / "ride.fit"
    grow = [lambda n=n: ride.write_bytes(b"x" * n) for n in range(1, 6)]
    assert watched(tmp_path, *grow) == []
    assert watched(tmp_path, *grow, nothing, nothing, nothing, nothing) == [["ride.fit"]]


def test_files_there_at_the_start_are_known_unless_they_change(tmp_path: Path) -> None:
    ride = tmp_path / "ride.fit"
    ride.write_bytes(b"x")
    assert watched(tmp_path, nothing, nothing, nothing, nothing) == []
    assert watched(tmp_path, lambda: ride.write_bytes(b"xy"), *[nothing] * 4) == [["ride.fit"]]


def test_unfinished_names_and_hidden_files_are_left_alone(tmp_path: Path) -> None:
    part = tmp_path / "ride.fit.part"
    doings = [lambda: part.write_bytes(b"x"), lambda: (tmp_path / ".ride.fit").write_bytes(b"x"), *[nothing] * 4]
    assert watched(tmp_path, *doings) == []
    assert watched(tmp_path, lambda: part.rename(tmp_path / "ride.fit"), *[nothing] * 4) == [["ride.fit"]]


def test_a_file_that_goes_again_is_forgotten(tmp_path: Path) -> None:
    ride = tmp_path / "ride.fit"
    seen = watched(tmp_path, lambda: ride.write_bytes(b"x"), nothing, ride.unlink, *[nothing] * 4)
    assert seen == []


def test_two_files_at_once_come_together(tmp_path: Path) -> None:
    def both() -> None:
        for name in ("a.fit", "b.gpx"):
            (tmp_path / name).write_bytes(b"x")

    assert watched(tmp_path, both, *[nothing] * 4) == [["a.fit", "b.gpx"]]


def test_a_changed_time_is_a_change(tmp_path: Path) -> None:
    ride = tmp_path / "ride.fit"
    ride.write_bytes(b"x")
    arrivals = Arrivals()
    arrivals.begin([ride])
    os.utime(ride, ns=(1, 1))
    assert arrivals.poll([ride], 0.0) == ()
    assert arrivals.poll([ride], 2.0) == (ride,)


def test_an_absent_folder_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(AthleteFileError, match="expected a folder of recordings"):
        watched(tmp_path / "nowhere", nothing)
