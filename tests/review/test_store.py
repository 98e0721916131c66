"""The store: found again what was stored, never anything else, whatever happens to its files."""

from __future__ import annotations

import ast
import errno
import os
import re
import stat
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest
from season_files import make_folder, ride_bytes
from test_store_codec import same

from conftest import ROOT
from steadyband.athlete import codec
from steadyband.athlete import season as season_module
from steadyband.athlete import work as work_module
from steadyband.athlete.codec import CodecError
from steadyband.athlete.folder import by_test, open_folder, recordings_in
from steadyband.athlete.season import Season, Stopped, load_season
from steadyband.athlete.store import keys as keys_module
from steadyband.athlete.store import open_store
from steadyband.athlete.store import store as store_module
from steadyband.audit.model import Audit

ALWAYS = (date(2000, 1, 1), date(2100, 1, 1))


class Count:
    """Counts the files read."""

    def __init__(self, stop_after: int | None = None) -> None:
        self.to_read = self.known = self.done = self.judged = 0
        self._stop_after = stop_after

    def judging(self, files: int) -> None:
        self.judged = files

    def begin(self, to_read: int, known: int) -> None:
        self.to_read, self.known = to_read, known

    def advance(self, files: int) -> None:
        self.done += files
        if self._stop_after is not None and self.done >= self._stop_after:
            raise KeyboardInterrupt


def run(home: Path, count: Count | None = None, keep: bool = True) -> Season:
    folder = open_folder(home)
    store = open_store(folder) if keep else None
    return load_season(recordings_in(folder.athlete.activities), folder, store, count)


def whole(season: Season) -> list[Audit]:
    return list(season.audits(*ALWAYS))


def assert_same(left: Season, right: Season) -> None:
    a, b = whole(left), whole(right)
    assert len(a) == len(b) > 0
    assert all(map(same, a, b))
    assert all(map(same, left.sessions, right.sessions))
    assert left.failures == right.failures


@pytest.fixture(autouse=True)
def one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """No helper processes for a handful of files; test_store_processes has them."""
    monkeypatch.setattr(work_module, "worth_spreading", lambda count: count > 100)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    made = make_folder(tmp_path / "athlete")
    (made / "activities" / "note.txt").write_text("not a recording", encoding="utf-8")
    long_ago = time.time() - 3600  # files just written are looked at again
    for path in (made / "activities").iterdir():
        os.utime(path, (long_ago, long_ago))
    return made


def test_a_second_run_reads_nothing_and_tells_the_same(home: Path) -> None:
    first = run(home)
    count = Count()
    second = run(home, count)
    assert (count.to_read, count.known) == (0, 9)
    assert_same(second, first)
    assert_same(second, run(home, keep=False))
    assert [failure.file for failure in second.failures] == [str(home / "activities" / "note.txt")]
    assert second.notices == ()


def test_the_store_is_private(home: Path) -> None:
    run(home)
    place = home / ".steadyband"
    assert stat.S_IMODE(place.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in place.iterdir()} == {0o600}


def test_content_counts_not_name_or_time(home: Path) -> None:
    run(home)
    (home / "activities" / "ride-000.fit").rename(home / "activities" / "moved.fit")
    os.utime(home / "activities" / "ride-001.fit")
    count = Count()
    season = run(home, count)
    assert count.to_read == 0
    assert whole(season)[0].info.file == "moved.fit"
    assert_same(season, run(home, keep=False))


def test_other_content_of_the_same_size_and_time_is_read(home: Path) -> None:
    """As `cp -p` or a sync program leaves it: only the system's own time of change tells (it cannot be set back)."""
    run(home)
    run(home)
    place = home / "activities" / "ride-000.fit"
    before = place.stat()
    data = place.read_bytes()
    other = ride_bytes(seed=77)
    place.write_bytes(other[: len(data)].ljust(len(data), b"\0"))
    os.utime(place, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert (place.stat().st_size, place.stat().st_mtime_ns) == (before.st_size, before.st_mtime_ns)
    count = Count()
    run(home, count)
    assert count.to_read == 1


def test_other_content_under_the_same_name_is_read(home: Path) -> None:
    run(home)
    (home / "activities" / "ride-000.fit").write_bytes(ride_bytes(seed=77))
    count = Count()
    season = run(home, count)
    assert count.to_read == 1
    assert_same(season, run(home, keep=False))


def judged_only(home: Path) -> tuple[Season, int]:
    """(the season, sessions judged again) of a run in which opening any recording is a fault; as if all were read anew."""

    def opened(*_: object, **__: object) -> Any:
        raise AssertionError("a recording was opened")

    count = Count()
    with pytest.MonkeyPatch.context() as shut:
        for module, name in ((work_module, "read"), (work_module, "contents"), (season_module, "packed_bytes")):
            shut.setattr(module, name, opened)
        season = run(home, count)
        again = run(home)
        assert_same(again, season)  # kept as judged now
    assert (count.to_read, count.known) == (0, len(list((home / "activities").iterdir())))
    assert_same(season, run(home, keep=False))
    return season, count.judged


def test_a_label_concerns_its_day_alone(home: Path) -> None:
    run(home)
    (home / "sessions.csv").write_text("date,time,intent,sport,note\n2026-04-25,,hard,,\n", encoding="utf-8")
    season, judged = judged_only(home)
    assert judged == 1
    assert [audit.info.intent for audit in whole(season)][:2] == ["endurance", "hard"]


def bike_test(home: Path) -> Path:
    return next(path for path in (home / "tests").glob("*.toml") if 'sport = "cycling"' in path.read_text("utf-8"))


def test_a_new_test_concerns_later_sessions_of_its_sport(home: Path) -> None:
    run(home)
    text = bike_test(home).read_text(encoding="utf-8")
    (line,) = [line for line in text.splitlines() if line.startswith("date")]
    (home / "tests" / "later.toml").write_text(text.replace(line, "date = 2026-04-28"), encoding="utf-8")
    # Rides on 24, 25, 27, 28, 30 April and 1 May, runs on 26 and 29 April (make_folder): three rides from 28 April on.
    assert judged_only(home)[1] == 3


def test_another_step_judges_again_and_reads_nothing(home: Path) -> None:
    before = run(home)
    path = bike_test(home)
    text = path.read_text(encoding="utf-8")
    load = next(int(found) for found in re.findall(r"load = (\d+)", text))
    path.write_text(text.replace(f"load = {load}", f"load = {load - 7}", 1), encoding="utf-8")
    season, judged = judged_only(home)
    assert judged == 6
    assert not all(map(same, whole(season), whole(before)))


def test_a_named_test_judges_its_sport_and_leaves_what_was_stored(home: Path) -> None:
    """Six rides of nine sessions (make_folder): a ride's test named for all of them, then left away again."""
    before = run(home)
    folder = by_test(open_folder(home), home / "tests" / "2026-02-09-bike.toml")
    named = load_season(recordings_in(folder.athlete.activities), folder, open_store(folder), None)
    used = {(audit.info.sport, audit.zones.test) for audit in whole(named) if audit.zones}
    assert used == {("cycling", "2026-02-09-bike.toml"), ("running", "2026-04-22-run.toml")}
    assert {audit.zones.test for audit in whole(before) if audit.zones} == {
        "2026-04-20-bike.toml",
        "2026-04-22-run.toml",
    }
    assert_same(named, load_season(recordings_in(folder.athlete.activities), folder, None, None))
    assert_same(run(home), before)
    assert folder.athlete.reports.name == "by-2026-02-09-bike"


def test_settings_that_judge_and_back(home: Path) -> None:
    before = run(home)
    plain = (home / "athlete.toml").read_text(encoding="utf-8")
    (home / "athlete.toml").write_text(plain + "[settings.bands]\nwindow_s = 61\n", encoding="utf-8")
    season, judged = judged_only(home)
    assert judged == 8  # and one file that is no recording, which no setting makes one
    assert not all(map(same, whole(season), whole(before)))
    (home / "athlete.toml").write_text(plain, encoding="utf-8")
    back = Count()
    assert_same(run(home, back), before)
    assert (back.to_read, back.judged) == (0, 0)


@pytest.mark.parametrize("settings", ["[settings.grid]\nhold_s = 5\n", "[settings.cleaning]\nfrozen_power = 0\n"])
def test_settings_that_measure_read_again(home: Path, settings: str) -> None:
    run(home)
    with (home / "athlete.toml").open("a", encoding="utf-8") as file:
        file.write(settings)
    count = Count()
    season = run(home, count)
    assert (count.to_read, count.judged) == (9, 0)
    assert_same(season, run(home, keep=False))


def test_a_session_of_no_sport_is_measured_again_as_what_a_label_says(home: Path) -> None:
    """Cleaning knows the sport: rows cleaned as another one are not judged."""
    nameless = home / "activities" / "ride-000.fit"
    text = GPX.format("".join(f'<trkpt lat="46.{n:04d}" lon="7.5"><time>{_at(n)}</time></trkpt>' for n in range(1300)))
    nameless.unlink()
    nameless.with_suffix(".gpx").write_text(text, encoding="utf-8")
    first = run(home)
    assert whole(first)[0].info.sport == "unknown"
    (home / "sessions.csv").write_text("date,time,intent,sport,note\n2026-04-20,,easy,running,\n", encoding="utf-8")
    count = Count()
    season = run(home, count)
    assert (count.to_read, count.judged) == (1, 1)
    assert whole(season)[0].info.sport == "running"
    assert season.notices == ()
    assert_same(season, run(home, keep=False))


GPX = """<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{}</trkseg></trk></gpx>"""


def _at(second: int) -> str:
    return (datetime(2026, 4, 20, 8, tzinfo=UTC) + timedelta(seconds=second)).strftime("%Y-%m-%dT%H:%M:%SZ")


@pytest.mark.parametrize("harm", ["cut", "gone", "other rows"])
def test_damaged_rows_are_read_again_where_they_must_be_judged(home: Path, harm: str) -> None:
    run(home)
    (name,) = (home / ".steadyband").glob("detail*")
    data = name.read_bytes()
    if harm == "other rows":
        store = open_store(open_folder(home))
        made = store._detail.write([b"no rows"] * 8)
        rows = [msgspec.structs.replace(row, detail=made) for row in store._all_rows]
        for path in (home / ".steadyband").glob("sessions*"):
            path.unlink()
        store._sessions.write(rows)
    name.unlink()
    if harm == "cut":
        name.write_bytes(data[:999])
    with (home / "athlete.toml").open("a", encoding="utf-8") as file:
        file.write("[settings.bands]\nwindow_s = 61\n")
    count = Count()
    season = run(home, count)
    assert (count.to_read, count.known) == (8, 1)
    assert season.notices == (() if harm == "gone" else (store_module.DAMAGED,))
    assert_same(season, run(home, keep=False))
    assert run(home).notices == ()


def test_ctrl_c_while_judging_keeps_what_is_done(home: Path) -> None:
    run(home)
    with (home / "athlete.toml").open("a", encoding="utf-8") as file:
        file.write("[settings.bands]\nwindow_s = 61\n")
    with pytest.raises(Stopped) as stop:
        run(home, Count(stop_after=4))
    assert (stop.value.done, stop.value.total, stop.value.kept) == (4, 8, True)
    count = Count()
    run(home, count)
    assert (count.to_read, count.judged) == (0, 4)


WORDS_ALONE = {
    "units and clock": ("athlete.toml", 'units = "miles"\nclock = "12h"\n'),
    "name": ("athlete.toml", 'name = "Another"\n'),
    "reports": ("athlete.toml", 'reports = "pages"\n'),
    "note of a session": ("sessions.csv", "date,time,intent,sport,note\n2026-04-25,,endurance,,heavy legs\n"),
    "note of a test": ("tests", 'note = "windy"\n'),
}


@pytest.mark.parametrize("what", WORDS_ALONE)
def test_what_no_number_depends_on_reads_nothing_again(home: Path, what: str) -> None:
    (home / "sessions.csv").write_text("date,time,intent,sport,note\n2026-04-25,,endurance,,\n", encoding="utf-8")
    run(home)
    place, text = WORDS_ALONE[what]
    path = next((home / "tests").glob("*bike*.toml")) if place == "tests" else home / place
    before = path.read_text(encoding="utf-8")
    key = text.split(" = ")[0]
    rest = "".join(line for line in before.splitlines(keepends=True) if not line.startswith(f"{key} ="))
    path.write_text(text if place == "sessions.csv" else text + rest, encoding="utf-8")
    count = Count()
    season = run(home, count)
    assert (count.to_read, count.known) == (0, 9)
    assert_same(season, run(home, keep=False))


def test_a_word_of_the_program_reads_nothing_again(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The rooms that write for people are no part of the key; those that make numbers are."""
    makers = {
        path.relative_to(ROOT / "src" / "steadyband").as_posix()
        for path in keys_module.modules_of(keys_module.MAKE_NUMBERS)
    }
    rooms = {place.split("/")[0] for place in makers}
    assert not rooms & {"told", "review", "report", "cli"}
    assert "ground/units.py" not in makers
    assert {"audit/judge.py", "audit/findings/surges.py", "recording/grid.py", "steptest/curve/zones.py"} <= makers


NO_NUMBERS = {
    "ground": "errors, the reader's choice, texts, files; the values of settings are a key of their own",
    "steptest": "tests are read before, and what came of them is a key of its own",
    "athlete": "the folder's inputs are keys of their own; where work is done changes no number",
}
"""Rooms whose modules beside `MAKE_NUMBERS` may be imported by them, and why."""


def test_what_makes_numbers_imports_nothing_else_that_does() -> None:
    package = ROOT / "src" / "steadyband"
    makers = set(keys_module.modules_of(keys_module.MAKE_NUMBERS))
    for path in makers:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("steadyband."):
                parts = str(node.module).split(".")[1:]
                found = [package.joinpath(*parts).with_suffix(".py"), package.joinpath(*parts, "__init__.py")]
                assert parts[0] in NO_NUMBERS or any(one in makers for one in found), (path, node.module)


MEASURED_FROM = {"athlete": "a session's sport, and the limits around one recording", "audit": "names of types"}
"""Rooms besides `recording` and `ground` that what measures may import, and what for."""


def test_what_measures_knows_nothing_that_judges() -> None:
    for path in keys_module.modules_of(keys_module.MEASURE):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("steadyband."):
                room = str(node.module).split(".")[1]
                assert room in {"ground", "recording", *MEASURED_FROM}, (path, node.module)
                assert room != "audit" or node.module == "steadyband.audit.model", (path, node.module)


def test_another_way_to_judge_reads_nothing(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (home / "activities" / "note.txt").unlink()
    run(home)
    monkeypatch.setattr(keys_module, "code_digest", lambda: "another")
    assert judged_only(home)[1] == 8


def test_another_way_to_measure_reads_everything(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(home)
    monkeypatch.setattr(keys_module, "code_digest", lambda: "another")
    monkeypatch.setattr(keys_module, "measuring_digest", lambda: "another")
    count = Count()
    run(home, count)
    assert (count.to_read, count.judged) == (9, 0)


@pytest.mark.parametrize("kind", ["sessions", "detail", "index"])
@pytest.mark.parametrize("harm", ["cut", "flipped", "empty", "gone", "nonsense"])
def test_harm_to_any_file_changes_no_result(home: Path, kind: str, harm: str) -> None:
    before = run(home)
    for path in (home / ".steadyband").glob(f"{kind}*"):
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 0x10
        made = {"cut": bytes(data[: len(data) // 3]), "flipped": bytes(data), "empty": b"", "nonsense": b"rows" * 99}
        path.unlink()
        if harm != "gone":
            path.write_bytes(made[harm])
    after = run(home)
    assert_same(after, before)
    assert after.notices == (() if harm == "gone" else (store_module.DAMAGED,))
    assert run(home).notices == ()


def test_strangers_in_the_store_are_left_alone(home: Path) -> None:
    before = run(home)
    strange = home / ".steadyband" / "holiday.jpg"
    strange.write_bytes(b"not ours")
    assert_same(run(home), before)
    assert strange.read_bytes() == b"not ours"


def test_deleted_between_finding_and_showing(home: Path) -> None:
    before = whole(run(home))
    season = run(home)
    for path in (home / ".steadyband").iterdir():
        path.unlink()
    assert all(map(same, whole(season), before))


def test_a_place_that_cannot_be_written_costs_a_sentence(home: Path) -> None:
    (home / ".steadyband").write_text("a file in the place of the folder", encoding="utf-8")
    season = run(home)
    assert len(season.notices) == 1
    assert "could not be written" in season.notices[0]
    assert_same(season, run(home, keep=False))


def test_ctrl_c_keeps_what_is_done(home: Path) -> None:
    with pytest.raises(Stopped) as stop:
        run(home, Count(stop_after=4))
    assert (stop.value.done, stop.value.total, stop.value.kept) == (4, 9, True)
    count = Count()
    assert_same(run(home, count), run(home, keep=False))
    assert 4 <= count.known < 9


def test_many_small_files_are_put_together(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(season_module, "FLUSH", 1)
    monkeypatch.setattr(store_module, "COMPACT_FROM", 2)
    before = run(home)
    names = sorted(path.name.partition("-")[0] for path in (home / ".steadyband").iterdir())
    assert names.count("sessions3") == names.count("index3") == 1
    assert_same(run(home), before)


def test_what_nothing_points_at_goes_when_it_is_old(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store_module, "COMPACT_FROM", 1)
    run(home)
    place = home / ".steadyband"
    orphan = place / f"detail3-{'0' * 32}.rows"
    young, half = place / f"detail3-{'1' * 32}.rows", place / "tmpabc.part"
    for path in (orphan, young, half):
        path.write_bytes(b"x")
    for path in (orphan, half):
        os.utime(path, (time.time() - 7200, time.time() - 7200))
    (home / "activities" / "ride-000.fit").write_bytes(ride_bytes(seed=5))
    run(home)
    assert (orphan.exists(), young.exists(), half.exists()) == (False, True, False)


def test_another_table_under_a_sound_name_is_not_used(home: Path) -> None:
    """A file of ours by its name and digest, but not with our columns: another version may have written it."""
    import hashlib
    import zlib

    before = run(home)
    other = msgspec.msgpack.encode([{"base": "x", "other": 1}])
    data = {"other rows": zlib.compress(other), "no rows": zlib.compress(b"no rows"), "not packed": b"not packed"}
    for kind in ("sessions3", "index3"):
        for one in data.values():
            name = f"{kind}-{hashlib.sha256(one).hexdigest()[:32]}.rows"
            (home / ".steadyband" / name).write_bytes(one)
    count = Count()
    after = run(home, count)
    assert count.to_read == 0
    assert after.notices == (store_module.DAMAGED,)
    assert_same(after, before)


def test_a_detail_that_is_none_costs_a_sentence(home: Path) -> None:
    """A sound file by name and digest whose row is no measured session: the session is read again."""
    before = run(home)
    season = run(home)
    store = season.store
    assert store is not None
    told: list[str] = []
    store.tell = told.append
    (name,) = store._detail.names()
    made = store._detail.write([b"no audit"] * 99)
    (home / ".steadyband" / name).unlink()
    entries = [replace(entry, kept=entry.kept and replace(entry.kept, file=made)) for entry in season.entries]
    assert_same(replace(season, entries=tuple(entries)), before)
    assert told == [store_module.DAMAGED]


@pytest.mark.parametrize("kind", ["audit", "condensed", "outline", "fault"])
def test_a_row_that_does_not_fit_is_read_again(home: Path, kind: str) -> None:
    before = run(home)
    store = open_store(open_folder(home))
    rows = [msgspec.structs.replace(row, **{kind: b"nonsense"}) for found in store._rows.values() for row in found]
    for path in (home / ".steadyband").glob("sessions*"):
        path.unlink()
    store._sessions.write(rows)
    count = Count()
    after = run(home, count)
    # Eight sessions, judged again where what they were measured as is sound, and one file that is no recording.
    assert (count.to_read, count.judged) == {"outline": (8, 0), "fault": (1, 8)}.get(kind, (0, 8))
    assert after.notices == (store_module.DAMAGED,)
    assert_same(after, before)
    assert run(home).notices == ()


def test_a_store_that_cannot_be_read_costs_a_sentence(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = run(home)

    listed = Path.iterdir

    def refused(path: Path) -> Iterator[Path]:
        if path.name == ".steadyband":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return listed(path)

    monkeypatch.setattr(Path, "iterdir", refused)
    folder = open_folder(home)
    store = open_store(folder)
    monkeypatch.undo()
    season = load_season(recordings_in(folder.athlete.activities), folder, store)
    assert len(season.notices) == 1
    assert "could not be read (Permission denied)" in season.notices[0]
    assert_same(season, before)


def test_a_result_that_cannot_be_stored_costs_a_sentence(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> bytes:
        raise CodecError("not to be stored as Audit: expected a plain value, found set")

    monkeypatch.setattr(codec, "dump", refused)
    season = run(home)
    assert len(season.notices) == 1
    assert "could not be written (not to be stored as measured rows" in season.notices[0]
    monkeypatch.undo()
    assert_same(season, run(home, keep=False))


def test_files_of_the_earlier_version_go(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store_module, "COMPACT_FROM", 1)
    run(home)
    old = home / ".steadyband" / f"sessions1-{'0' * 32}.parquet"
    old.write_bytes(b"x")
    os.utime(old, (time.time() - 7200, time.time() - 7200))
    (home / "activities" / "ride-000.fit").write_bytes(ride_bytes(seed=5))
    run(home)
    assert not old.exists()
