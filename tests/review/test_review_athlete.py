"""athlete.toml: every fault names file, key, expected and found."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyband.athlete.athlete import read_athlete
from steadyband.athlete.folder import open_folder, recordings_in
from steadyband.athlete.starter import write_starter
from steadyband.ground.errors import AthleteFileError, UsageError
from steadyband.ground.reader import Reader


def write(folder: Path, text: str) -> Path:
    path = folder / "athlete.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_defaults(tmp_path: Path) -> None:
    athlete = read_athlete(write(tmp_path, ""))
    assert (athlete.name, athlete.time_zone.key, athlete.reader) == ("", "UTC", Reader("metric", "24h"))
    assert athlete.reports == tmp_path / "reports"


def test_everything_said(tmp_path: Path) -> None:
    text = """
    name = "Invented"
    time_zone = "Europe/Lisbon"
    units = "miles"
    clock = "12h"
    reports = "../pages"
    [thresholds]
    cycling = 265
    running = "4:10"
    [[intent_rule]]
    word = "Intervals"
    intent = "hard"
    [settings.verdict]
    surges_per_hour = 12
    """
    athlete = read_athlete(write(tmp_path, text))
    assert athlete.reports == tmp_path.parent / "pages"
    assert athlete.reader == Reader("miles", "12h")
    assert athlete.thresholds == {"cycling": 265, "running": "4:10"}
    assert athlete.intent_rules[0].word == "intervals"
    assert athlete.settings.verdict.surges_per_hour == 12


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ('nam = "x"', ["nam", "Did you mean 'name'"]),
        ("name = 3", ["name", "text", "3"]),
        ('time_zone = "Mars/North"', ["time_zone", "IANA", "Mars/North"]),
        ('units = "furlongs"', ["units", "metric", "furlongs"]),
        ("units = []", ["units", "metric", "[]"]),
        ('clock = "24 h"', ["clock", '"24h" or "12h"', "24 h"]),
        ("[thresholds]\nrowing = 1", ["thresholds.rowing"]),
        ("[thresholds]\ncycling = true", ["thresholds.cycling", "True"]),
        ("thresholds = 3", ["thresholds", "table"]),
        ('[[intent_rule]]\nword = ""\nintent = "hard"', ["intent_rule 1.word"]),
        ('[[intent_rule]]\nword = "x"\nintent = "relaxed"', ["intent_rule 1.intent", "relaxed"]),
        ("intent_rule = 3", ["intent_rule"]),
        ("[settings.verdict]\nsurges_per_hours = 3", ["[settings.verdict]", "surges_per_hours"]),
        ('[settings.verdict]\neasy_share = "x"', ["easy_share", "number", "'x'"]),
        ("[settings.verdict]\neasy_share = 3", ["easy_share", "0 to 1", "3"]),
        ("[settings.bands]\nwindow_s = 30.5", ["window_s", "whole number"]),
        ("[settings.gears]\nx = 1", ["settings.gears"]),
        ("name = \nunits = 3", ["TOML", "line 1"]),
    ],
)
def test_faults(tmp_path: Path, text: str, parts: list[str]) -> None:
    with pytest.raises(AthleteFileError) as caught:
        read_athlete(write(tmp_path, text))
    assert all(part in str(caught.value) for part in ["athlete.toml", *parts]), str(caught.value)


def test_not_utf8(tmp_path: Path) -> None:
    path = tmp_path / "athlete.toml"
    path.write_bytes(b'name = "\xff"')
    with pytest.raises(AthleteFileError, match="UTF-8"):
        read_athlete(path)


def test_a_folder_without_athlete_file_says_init(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="steadyband init"):
        open_folder(tmp_path)


def test_starter_opens_and_is_never_replaced(tmp_path: Path) -> None:
    write_starter(tmp_path / "mine")
    folder = open_folder(tmp_path / "mine")
    assert folder.zone_sets == ()
    assert folder.labels == ()
    with pytest.raises(UsageError, match="expected a new folder"):
        write_starter(tmp_path / "mine")


def test_recordings_leave_hidden_files_and_links_out_of_the_folder_alone(tmp_path: Path) -> None:
    inside = tmp_path / "activities"
    (inside / "deep").mkdir(parents=True)
    (inside / ".hidden").mkdir()
    for path in (
        inside / "a.fit",
        inside / "deep" / "b.gpx",
        inside / ".c.fit",
        inside / ".hidden" / "d.fit",
        tmp_path / "e.fit",
    ):
        path.write_bytes(b"")
    (inside / "link.fit").symlink_to(tmp_path / "e.fit")
    assert [path.name for path in recordings_in(inside)] == ["a.fit", "b.gpx"]
