"""The same session in several files is counted once; one ride in two files is one ride; everything else stays apart."""

from __future__ import annotations

import dataclasses
import zipfile
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from season_files import FIRST, FIT_EPOCH_UNIX, make_folder
from test_store import ALWAYS, Count, assert_same, run, whole

from steadyband.athlete import same
from steadyband.athlete import work as work_module
from steadyband.athlete.outline import Outline, outline_of
from steadyband.athlete.same import Candidate, LeftOut
from steadyband.ground.settings import CopySettings
from steadyband.recording import SessionRecords, to_rows
from steadyband.recording.joining import join_records

T0 = 1.777e9
HOME = (46.0, 7.0)


LIMITS = CopySettings()


def joined(items: Sequence[Candidate]) -> list[Candidate]:
    return same.joined(items, LIMITS)


def without_copies(items: Sequence[Candidate]) -> tuple[list[Candidate], list[LeftOut]]:
    return same.without_copies(items, LIMITS)


def is_same(one: Candidate, other: Candidate) -> bool:
    return same.is_same(one, other, LIMITS)


def records(start: float = 0, minutes: int = 60, *, seed: int = 1, step_s: int = 1, **channels: Any) -> SessionRecords:
    """A ride east at 8 m/s with power and heart rate that depend on the time of day alone, so that copies agree."""
    time_s = T0 + start + np.arange(0, 60 * minutes, step_s, dtype=np.float64)
    clock = time_s - T0
    lon = HOME[1] + clock * 8 / (111_195 * np.cos(np.radians(HOME[0])))
    rng = np.random.default_rng(seed)
    made = {
        "power_w": np.round(200 + 50 * np.sin(clock / 300) + rng.normal(0, 10, len(clock))),
        "heart_rate_bpm": np.round(135 + 12 * np.sin(clock / 400)),
        "speed_mps": np.full(len(clock), 8.0),
        "distance_m": 8.0 * (clock - clock[0]),
        "lat_deg": np.full(len(clock), HOME[0]) + 0.01 * np.sin(clock / 900),
        "lon_deg": lon,
    }
    made |= channels
    kept = {name: np.asarray(values, np.float64) for name, values in made.items() if values is not None}
    return SessionRecords("cycling", None, None, time_s, kept)


def candidate(session: SessionRecords, file: str, format: str = "fit", **changed: Any) -> Candidate:
    outline = outline_of(session, format)
    sport = changed.pop("sport", session.sport)
    intent = changed.pop("intent", "endurance")
    group = changed.pop("group", file)
    return Candidate((0,), file, group, sport, intent, outline.start_s, outline.end_s, lambda: outline)


def kept(*items: Candidate) -> tuple[list[str], list[tuple[str, str]]]:
    chosen, dropped = without_copies(items)
    return [item.file for item in chosen], sorted((out.dropped.file, out.kept.file) for out in dropped)


BARE = {"power_w": None, "lat_deg": None, "lon_deg": None, "distance_m": None}


def test_an_exact_copy_is_left_out() -> None:
    assert kept(candidate(records(), "b.fit"), candidate(records(), "a.fit")) == (["a.fit"], [("b.fit", "a.fit")])


def test_fit_goes_before_gpx() -> None:
    assert kept(candidate(records(), "a.gpx", "gpx"), candidate(records(), "b.fit"))[0] == ["b.fit"]


def test_power_goes_before_none_whatever_the_format() -> None:
    bare = candidate(records(power_w=None), "phone.fit")
    assert kept(bare, candidate(records(step_s=4), "computer.gpx", "gpx"))[0] == ["computer.gpx"]


def test_more_channels_then_longer() -> None:
    fewer = candidate(records(heart_rate_bpm=None), "a.fit")
    assert kept(fewer, candidate(records(), "b.fit"))[0] == ["b.fit"]
    assert kept(candidate(records(minutes=55), "a.fit"), candidate(records(), "b.fit"))[0] == ["b.fit"]


def test_a_much_longer_one_stays_though_it_carries_less() -> None:
    """The battery of the bike computer died after an hour; the phone went on."""
    phone, computer = (
        candidate(records(minutes=180, power_w=None), "phone.fit"),
        candidate(records(minutes=60), "c.fit"),
    )
    assert kept(phone, computer)[0] == ["phone.fit"]


def test_phone_and_computer_with_clocks_apart() -> None:
    phone = records(start=7, minutes=58, step_s=5, power_w=None, heart_rate_bpm=None)
    assert kept(candidate(records(), "c.fit"), candidate(phone, "p.gpx", "gpx"))[0] == ["c.fit"]


def test_indoors_load_tells() -> None:
    """Two power meters 3 % apart on one ride without positions."""
    inside = records(lat_deg=None, lon_deg=None)
    other = records(lat_deg=None, lon_deg=None, power_w=inside.channels["power_w"] * 1.03)
    assert len(kept(candidate(inside, "a.fit"), candidate(other, "b.fit"))[0]) == 1


def test_two_athletes_at_the_same_time_stay_two() -> None:
    elsewhere = records(lat_deg=records().channels["lat_deg"] + 0.05)
    assert len(kept(candidate(records(), "a.fit"), candidate(elsewhere, "b.fit"))[0]) == 2
    indoors = records(lat_deg=None, lon_deg=None)
    harder = records(lat_deg=None, lon_deg=None, power_w=indoors.channels["power_w"] * 1.25)
    assert len(kept(candidate(indoors, "a.fit"), candidate(harder, "b.fit"))[0]) == 2


def test_other_sports_and_little_overlap_stay_two() -> None:
    assert not is_same(candidate(records(), "a.fit"), candidate(records(), "b.fit", sport="running"))
    assert is_same(candidate(records(), "a.fit"), candidate(records(), "b.gpx", sport="unknown"))
    assert not is_same(candidate(records(), "a.fit"), candidate(records(start=1800), "b.fit"))
    assert not is_same(candidate(records(), "a.fit"), candidate(records(), "a2.fit", group="a.fit"))


def test_nothing_to_compare_needs_the_same_moments() -> None:
    bare = records(**BARE, heart_rate_bpm=None, speed_mps=None, altitude_m=np.ones(3600))
    late = records(start=300, minutes=52, **BARE, heart_rate_bpm=None, speed_mps=None, altitude_m=np.ones(3120))
    assert is_same(candidate(bare, "a.fit"), candidate(bare, "b.fit"))
    assert not is_same(candidate(bare, "a.fit"), candidate(late, "b.fit"))


def test_three_copies_leave_one_named_by_each() -> None:
    items = [
        candidate(records(), "c.fit"),
        candidate(records(), "a.gpx", "gpx"),
        candidate(records(power_w=None), "b.fit"),
    ]
    for order in (items, items[::-1]):
        assert kept(*order) == (["c.fit"], [("a.gpx", "c.fit"), ("b.fit", "c.fit")])


def near_parts(gap_s: float, away_m: float = 50.0) -> tuple[SessionRecords, SessionRecords]:
    """Two parts, the second starting `away_m` east of where the first ended."""
    first, second = records(), records(start=3600 - 1 + gap_s)
    shift = first.channels["lon_deg"][-1] - second.channels["lon_deg"][0] + away_m / (111_195 * np.cos(np.radians(46)))
    lat = second.channels["lat_deg"] + first.channels["lat_deg"][-1] - second.channels["lat_deg"][0]
    moved = second.channels | {"lon_deg": second.channels["lon_deg"] + shift, "lat_deg": lat}
    return first, dataclasses.replace(second, channels=moved)


@pytest.mark.parametrize(
    ("gap_s", "away_m", "parts"), [(60, 50, 1), (1799, 250, 1), (1801, 50, 2), (60, 400, 2), (0, 0, 1)]
)
def test_parts_are_joined_within_limits(gap_s: float, away_m: float, parts: int) -> None:
    first, second = near_parts(gap_s, away_m)
    found = joined([candidate(second, "b.fit"), candidate(first, "a.fit")])
    assert len(found) == parts
    if parts == 1:
        assert found[0].file == "a.fit + b.fit"
        assert found[0].length_s == pytest.approx(3599 + gap_s + 3599)  # by hand: each part lasts 3,599 s


@pytest.mark.parametrize(
    "changed", [{"sport": "running"}, {"intent": "hard"}, {"format": "gpx"}, {"group": "a.fit"}, {"sport": "unknown"}]
)
def test_parts_that_differ_stay_apart(changed: dict[str, str]) -> None:
    first, second = near_parts(120)
    assert len(joined([candidate(first, "a.fit"), candidate(second, "b.fit", **changed)])) == 2


def test_parts_without_positions_stay_apart() -> None:
    first, second = (records(start, lat_deg=None, lon_deg=None) for start in (0, 3700))
    assert len(joined([candidate(first, "a.fit"), candidate(second, "b.fit")])) == 2


def test_a_test_is_never_joined() -> None:
    first, second = near_parts(120)
    assert len(joined([candidate(part, name, intent="test") for part, name in ((first, "a"), (second, "b"))])) == 2


def test_a_whole_copy_and_two_parts_are_one_ride() -> None:
    first, second = near_parts(300)
    phone = join_records(first, second)
    bare = dataclasses.replace(phone, channels={k: v for k, v in phone.channels.items() if k != "power_w"})
    items = [candidate(first, "a.fit"), candidate(second, "b.fit"), candidate(bare, "phone.gpx", "gpx")]
    chosen, dropped = without_copies(joined(items))
    assert [item.file for item in chosen] == ["a.fit + b.fit"]
    assert [out.dropped.file for out in dropped] == ["phone.gpx"]


def test_joined_records_keep_every_second_and_pause_between() -> None:
    first, second = near_parts(600)
    rows = to_rows(join_records(first, second))
    alone = [to_rows(part) for part in (first, second)]
    assert rows.records == sum(part.records for part in alone)
    assert int(rows.pause.sum()) == 599  # by hand: seconds strictly between the two parts
    assert int(rows.gap.sum()) == 0
    for name in ("power_w", "heart_rate_bpm", "lat_deg"):
        whole_channel = rows.channels[name]
        np.testing.assert_array_equal(whole_channel[: len(alone[0])], alone[0].channels[name])
        np.testing.assert_array_equal(whole_channel[-len(alone[1]) :], alone[1].channels[name])
    distance = rows.channels["distance_m"]
    assert distance[-1] == pytest.approx(2 * 8 * 3599)  # by hand: both parts at 8 m/s
    assert rows.stretch.max() == 1


def test_a_counter_that_went_on_by_itself_is_not_added_twice() -> None:
    first, second = near_parts(600)
    onward = second.channels | {"distance_m": second.channels["distance_m"] + 30_000}
    rows = to_rows(join_records(first, dataclasses.replace(second, channels=onward)))
    assert rows.channels["distance_m"][-1] == pytest.approx(30_000 + 8 * 3599)


def test_an_outline_by_minutes() -> None:
    session = records(minutes=3)
    made: Outline = outline_of(session, "fit")
    first = int(session.time_s[0] // 60)
    assert made.first_minute == first
    for number in range(len(made.power_w)):
        inside = session.time_s // 60 == first + number
        assert made.power_w[number] == pytest.approx(session.channels["power_w"][inside].mean(), rel=1e-6)
        assert made.lon_deg[number] == pytest.approx(session.channels["lon_deg"][inside][-1], abs=1e-5)
    assert made.starts_at == (session.channels["lat_deg"][0], session.channels["lon_deg"][0])


# The folder as a whole.


def gpx_of(start: int, seconds: int) -> str:
    """A GPX copy of `ride_bytes` without its power: the same heart rate and times."""
    from datetime import UTC, datetime

    rng = np.random.default_rng(1)
    rng.normal(0, 8, seconds)
    heart = (120 + np.arange(seconds) / 60 + rng.normal(0, 1, seconds)).astype(int)
    points = "".join(
        f'<trkpt lat="46.0" lon="{7 + i * 1e-4:.6f}">'
        f"<time>{datetime.fromtimestamp(start + FIT_EPOCH_UNIX + i, UTC):%Y-%m-%dT%H:%M:%SZ}</time>"
        f"<extensions><hr>{heart[i]}</hr></extensions></trkpt>"
        for i in range(seconds)
    )
    return (
        '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1"><trk><type>cycling</type>'
        f"<trkseg>{points}</trkseg></trk></gpx>"
    )


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(work_module, "worth_spreading", lambda count: count > 100)
    return make_folder(tmp_path / "athlete", rides=3, seconds=900)


def test_copies_in_the_folder_are_named_in_the_remarks(home: Path) -> None:
    from season_files import ride_bytes

    activities = home / "activities"
    (activities / "phone.gpx").write_text(gpx_of(FIRST + 5 * 86_400, 900), encoding="utf-8")
    (activities / "computer.fit").write_bytes(ride_bytes(FIRST + 5 * 86_400, 900, seed=1))
    (activities / "computer (1).fit").write_bytes(ride_bytes(FIRST + 5 * 86_400, 900, seed=1))
    for _ in range(2):
        season = run(home)
        assert [audit.info.file for audit in whole(season)][-1] == "computer (1).fit"
        assert len(season.entries) == 4
        texts = season.remarks_for(*ALWAYS)
        assert len(texts) == 2
        assert "phone.gpx holds the session of 29 April 2026, 21:20 once more" in " ".join(texts)
        assert season.remarks_for(date(2026, 4, 1), date(2026, 4, 20)) == ()


def test_recordings_in_a_zip_count_like_others(home: Path) -> None:
    before = whole(run(home, keep=False))
    inside = sorted((home / "activities").glob("*.fit"))
    with zipfile.ZipFile(home / "activities" / "all.zip", "w") as archive:
        for path in inside:
            archive.write(path, f"export/{path.name}")
            path.unlink()
        archive.writestr("export/profile.json", "{}")
    first = run(home)
    assert [audit.info.file for audit in whole(first)] == [f"all.zip/export/{path.name}" for path in inside]
    assert [audit.bands for audit in whole(first)] == [audit.bands for audit in before]
    assert first.failures == ()
    assert first.notices == ("all.zip: 1 member(s) that are no recordings were passed over.",)
    assert_same(run(home), first)


def test_a_zip_without_recordings_is_a_failure(home: Path) -> None:
    with zipfile.ZipFile(home / "activities" / "other.zip", "w") as archive:
        archive.writestr("a.txt", "x")
    (failure,) = run(home).failures
    assert failure.file.endswith("other.zip")
    assert "found none among its 1 member" in failure.message


def test_zip_members_are_known_the_second_time(home: Path) -> None:
    import os
    import time

    with zipfile.ZipFile(home / "activities" / "all.zip", "w") as archive:
        for path in sorted((home / "activities").glob("*.fit")):
            archive.write(path, path.name)
            path.unlink()
    os.utime(home / "activities" / "all.zip", (time.time() - 99, time.time() - 99))
    run(home)
    count = Count()
    run(home, count)
    assert (count.to_read, count.known) == (0, 3)


def test_real_copies_are_told_by_their_files(recordings: Path, home: Path) -> None:
    """Four exports of one walk around a lake and five copies of one activity, as their names say; the sound one is used."""
    import shutil

    activities = home / "activities"
    for path in activities.iterdir():
        path.unlink()
    lake = [path for path in (recordings / "gpx").glob("cerknicko*.gpx") if path.name != "cerknicko-without-times.gpx"]
    damaged = ["activity-activity-filecrc.fit", "activity-filecrc.fit", "activity-unexpected-eof.fit"]
    sound = recordings / "fit" / "chained_activity_then_settings.fit"
    for path in (*lake, *(recordings / "fit_damaged" / name for name in damaged), sound):
        shutil.copy(path, activities)
    season = run(home)
    files = [entry.condensed.audit.info.file for entry in season.entries]
    assert len(files) == 2
    assert files[0].startswith("cerknicko")
    assert files[1] == sound.name
    assert len(season.remarks) == len(lake) - 1 + len(damaged) + 1  # activity-activity holds it twice, chained


def test_a_damaged_copy_gives_way() -> None:
    broken = dataclasses.replace(candidate(records(), "a.fit"), damaged=True)
    assert kept(broken, candidate(records(), "b.fit"))[0] == ["b.fit"]
