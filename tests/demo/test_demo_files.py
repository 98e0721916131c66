"""The demo folder as files: small, decodable by libraries that did not write it, consistent in itself, made again byte for byte."""

from __future__ import annotations

import csv
import itertools
import tomllib
from typing import Any

import fitdecode
import pytest
from demo_files import ACTIVITIES, FOLDER, messages, points, session, sessions, timer_pauses, truth
from garmin_fit_sdk import Decoder, Stream

FIT = [item["file"] for item in sessions(kind="fit")]
WHOLE = [item["file"] for item in sessions(kind="fit") if item["faults"]["cut"] is None]
SEMICIRCLE_DEG = 180 / 2**31  # FIT protocol (SOURCES S9)


def _records(file: str) -> list[dict[str, Any]]:
    return messages(file)[0]["record_mesgs"]


def test_folder_is_under_8_mb_and_every_recording_is_in_the_truth() -> None:
    made = {"__pycache__", ".steadyband"}  # by Python and by the commands; neither is part of the folder
    files = [path for path in FOLDER.rglob("*") if path.is_file() and made.isdisjoint(path.parts)]
    assert sum(path.stat().st_size for path in files) < 8_000_000
    recordings = {path.relative_to(ACTIVITIES).as_posix() for path in ACTIVITIES.rglob("*") if path.is_file()}
    assert recordings == {item["file"] for item in truth()["sessions"]}


@pytest.mark.parametrize("file", WHOLE)
def test_whole_fit_files_are_sound(file: str) -> None:
    """Reference libraries: garmin-fit-sdk 21.x check_integrity and read; fitdecode 0.11 with CrcCheck.RAISE."""
    content = (ACTIVITIES / file).read_bytes()
    assert Decoder(Stream.from_byte_array(bytearray(content))).check_integrity()
    assert messages(file)[1] == []
    with fitdecode.FitReader(content, check_crc=fitdecode.CrcCheck.RAISE) as reader:
        names = [frame.name for frame in reader if isinstance(frame, fitdecode.FitDataMessage)]
    assert names.count("record") == len(_records(file)) == session(file)["seconds"]["records"]
    assert names.count("session") == names.count("activity") == names.count("file_id") == 1


def test_cut_file_ends_inside_a_record() -> None:
    """By hand: a record of this file is 26 bytes (header 1, time, place and distance 4 x 4, altitude, speed and power 3 x 2,
    heart rate, cadence and temperature 3 x 1), of the last one 13 are left."""
    item = session("flat-battery")
    content = (ACTIVITIES / item["file"]).read_bytes()
    assert len(content) < 14 + int.from_bytes(content[4:8], "little")
    seen: list[tuple[str, int]] = []
    with pytest.raises(fitdecode.FitEOFError), fitdecode.FitReader(content, keep_raw_chunks=True) as reader:
        seen.extend((frame.name, frame.chunk.offset) for frame in _data(reader))
    records = [offset for name, offset in seen if name == "record"]
    assert len(records) == item["seconds"]["records"]
    size = records[-1] - records[-2]
    assert size == 26
    assert len(content) - records[-1] - size == item["faults"]["cut"]["bytes_left_over"] == 13
    assert "session" not in [name for name, _ in seen]
    assert messages(item["file"])[0]["sport_mesgs"][0]["sport"] == "cycling"


def _data(reader: fitdecode.FitReader) -> Any:
    return (frame for frame in reader if isinstance(frame, fitdecode.FitDataMessage))


@pytest.mark.parametrize("file", WHOLE)
def test_summaries_equal_what_the_records_add_up_to(file: str) -> None:
    found, records = messages(file)[0], _records(file)
    summary = found["session_mesgs"][0]
    elapsed = records[-1]["timestamp"] - records[0]["timestamp"]
    stopped = sum(start - stop for stop, start in timer_pauses(session(file)))
    assert summary["total_elapsed_time"] == elapsed == session(file)["seconds"]["elapsed"] - 1
    assert summary["total_timer_time"] == elapsed - stopped
    assert summary["total_distance"] == pytest.approx(records[-1]["distance"], abs=0.005)
    laps = found["lap_mesgs"]
    assert sum(lap["total_timer_time"] for lap in laps) == summary["total_timer_time"]
    assert [lap["start_time"] for lap in laps] == sorted({lap["start_time"] for lap in laps})
    hearts = [record["heart_rate"] for record in records if "heart_rate" in record]
    assert summary["max_heart_rate"] == max(hearts)
    assert summary["avg_heart_rate"] == pytest.approx(sum(hearts) / len(hearts), abs=0.51)


@pytest.mark.parametrize("file", FIT)
def test_records_are_plausible(file: str) -> None:
    """Order, steps of 0.2 m (FIT altitude scale 5, FIT profile), distance that follows speed, positions in open ocean."""
    records = _records(file)
    times = [record["timestamp"] for record in records]
    assert times == sorted(set(times))
    metres = [record["distance"] for record in records]
    assert metres == sorted(metres)
    for record in records:
        assert 0 <= record["enhanced_speed"] < 15
        altitude = record.get("enhanced_altitude")
        assert altitude is None or abs(altitude * 5 - round(altitude * 5)) < 1e-6
        if "position_lat" in record:
            assert abs(record["position_lat"] * SEMICIRCLE_DEG - 29.5) < 0.1
            assert abs(record["position_long"] * SEMICIRCLE_DEG + 38.0) < 0.1
    made = [b["distance"] - a["distance"] for a, b in itertools.pairwise(records)]
    gone = [b["timestamp"] - a["timestamp"] for a, b in itertools.pairwise(records)]
    one = [abs(step - b["enhanced_speed"]) for step, s, b in zip(made, gone, records[1:], strict=True) if s == 1]
    assert max(one) < 0.02


def test_smart_recording_keeps_within_8_s() -> None:
    for part in ("trainer-hour.fit", "04-29-causeway-jog"):
        item = session(part)
        times = [record["timestamp"] for record in _records(item["file"])]
        gaps = [b - a for a, b in itertools.pairwise(times)]
        assert max(gaps) in (7, 8)
        assert item["seconds"]["records"] < item["seconds"]["elapsed"] / 3


def test_gpx_has_heart_rate_cadence_power_and_its_sport_every_other_second() -> None:
    item = session("phone-ride.gpx")
    text = (ACTIVITIES / item["file"]).read_text(encoding="utf-8")
    assert "<type>cycling</type>" in text
    track = points(item["file"])
    assert len(track) == item["seconds"]["records"] == item["seconds"]["elapsed"] // 2 + 1
    for point in track:
        assert [child.tag.rpartition("}")[2] for child in point.extensions[0]] == ["hr", "cad", "power", "atemp"]


def test_timer_stops_are_those_of_the_truth() -> None:
    item = session("ferry-wait")
    planned = item["seconds"]["pauses"]
    assert timer_pauses(item) == [(pause["stop_s"], pause["start_s"]) for pause in planned]
    assert [pause["kind"] for pause in planned] == ["auto", "timer", "auto"]
    inside = [pause["start_s"] - pause["stop_s"] - 1 for pause in planned]  # strictly between, METHOD 2.2
    assert sum(inside) == item["seconds"]["pause"]
    assert min(inside) < 10 < 760 <= max(inside)


def test_faults_are_written() -> None:
    item = session("04-25-shore-gravel")
    records = _records(item["file"])
    first, seconds = item["faults"]["power_missing"]
    silent = [place for place, record in enumerate(records) if "power" not in record]
    assert silent == list(range(first, first + seconds))
    spike = item["faults"]["power_spike"]
    assert [place for place, record in enumerate(records) if record.get("power", 0) > 2500] == [spike["second"]]
    first, seconds = item["faults"]["heart_rate_missing"]
    assert [n for n, record in enumerate(records) if "heart_rate" not in record] == list(range(first, first + seconds))


def test_temperature_is_hot_on_the_hot_ride_only() -> None:
    for file in FIT:
        degrees = [record["temperature"] for record in _records(file) if "temperature" in record]
        assert not degrees or (min(degrees) >= 32) == ("heat-ride" in file)


@pytest.mark.parametrize(("name", "unit"), [("2026-04-20-bike", 1.0), ("2026-04-22-run", 3.6)])
def test_typed_steps_agree_with_the_tests_own_recording(name: str, unit: float) -> None:
    """Load of each lap within 0.5 W of the typed one, or within half the 0.05 km/h a belt is set in and 0.01 of scatter; highest
    heart rate exactly the typed one."""
    test = tomllib.loads(next((FOLDER / "tests").glob(f"*{name}*.toml")).read_text(encoding="utf-8"))
    file = (FOLDER / "tests" / test["recording"]).resolve().relative_to(ACTIVITIES).as_posix()
    found, records = messages(file)[0], _records(file)
    starts = [lap["start_time"] for lap in found["lap_mesgs"]]
    assert len(starts) == len(test["step"])
    for step, first, end in zip(test["step"], starts, [*starts[1:], starts[-1] + 480], strict=True):
        part = [record for record in records if first <= record["timestamp"] < end]
        assert len(part) == 480
        bike = test["sport"] == "cycling"
        typed = step["load"] if bike else 3600 / _seconds(step["load"])
        loads = [record["power" if bike else "enhanced_speed"] * unit for record in part]
        assert sum(loads) / len(loads) == pytest.approx(typed, abs=0.5 if bike else 0.035)
        assert max(record["heart_rate"] for record in part) == step["hr_max"]


def _seconds(pace: str) -> int:
    minutes, seconds = pace.split(":")
    return 60 * int(minutes) + int(seconds)


def test_labels_are_those_of_the_truth() -> None:
    with (FOLDER / "sessions.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    labelled = [item for item in truth()["sessions"] if item["intent_source"] == "sessions.csv"]
    assert [(row["date"], row["intent"], row["sport"]) for row in rows] == [
        (item["local_date"], item["intent"], item["sport"]) for item in labelled
    ]
    toml = tomllib.loads((FOLDER / "athlete.toml").read_text(encoding="utf-8"))
    named = session("minute-repeats")
    workout = messages(named["file"])[0]["workout_mesgs"][0]["wkt_name"]
    assert [rule["intent"] for rule in toml["intent_rule"] if rule["word"] in workout.lower()] == [named["intent"]]
    assert "invented" in toml["name"]


def test_four_full_weeks() -> None:
    weeks = [item["iso_week"] for item in truth()["sessions"]]
    assert sorted(set(weeks)) == ["2026-W17", "2026-W18", "2026-W19", "2026-W20"]
    assert all(4 <= weeks.count(week) <= 7 for week in set(weeks))
    assert all(item["file"].startswith(item["iso_week"]) for item in truth()["sessions"])


@pytest.mark.parametrize("part", ["trainer-hour.fit", "04-29-causeway-jog", "phone-ride", "flat-battery"])
def test_made_again_byte_for_byte(part: str) -> None:
    """Regression pin of the committed bytes, made with fit-tool 0.9.16 and gpxpy 1.6.2; and truth with them."""
    import make_demo
    from simulation.build import build

    planned = next(item for item in make_demo.SESSIONS if part in item.file)
    hearts = {sport: tuple(test["step_heart_rates"]) for sport, test in truth()["tests"].items()}
    made = build(planned, hearts)
    assert made.content == (ACTIVITIES / planned.file).read_bytes()
    assert made.truth == session(part)


def test_texts_made_again_byte_for_byte(tmp_path: Any) -> None:
    import make_demo

    found = make_demo.hearts()
    make_demo.write_texts(tmp_path, found)
    for path in (path for path in tmp_path.rglob("*") if path.is_file()):
        assert path.read_bytes() == (FOLDER / path.relative_to(tmp_path)).read_bytes()
