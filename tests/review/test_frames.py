"""Tables with one schema whatever the data: empty folders, athletes without tests, Parquet by month and athlete, GeoJSON."""

from __future__ import annotations

import json
import shutil
from datetime import date, timedelta
from pathlib import Path

import polars as pl
import pytest

import steadyband
from conftest import DEMO
from console import run
from demo_home import copy_read
from steadyband.review import dataset
from steadyband.review.frames import season_columns
from steadyband.told.flat import audit_to_flat

RIDE = DEMO / "activities" / "2026-W20" / "2026-05-16-moor-tracks.fit"


@pytest.fixture(scope="module")
def home(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_read(read_demo, tmp_path_factory.mktemp("frames") / "home")


@pytest.fixture(scope="module")
def season(home: Path) -> pl.DataFrame:
    return steadyband.sessions(home)


@pytest.fixture(scope="module")
def ride() -> steadyband.Audit:
    return steadyband.audit(RIDE)[0]


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """An athlete folder with nothing in it."""
    (tmp_path / "activities").mkdir()
    (tmp_path / "athlete.toml").write_text('name = "Nobody"\n', encoding="utf-8")
    return tmp_path


def test_one_schema_whatever_the_data(season: pl.DataFrame, bare: Path) -> None:
    """An empty folder and an athlete without tests have the columns and types of a full season."""
    assert steadyband.sessions(bare).schema == season.schema
    shutil.copy(RIDE, bare / "activities")
    untested = steadyband.sessions(bare)
    assert untested["zones_floor"].null_count() == untested.height == 1
    assert untested.schema == season.schema
    untested.write_parquet(bare / "a.parquet")
    season.write_parquet(bare / "b.parquet")
    assert pl.scan_parquet([bare / "a.parquet", bare / "b.parquet"]).collect().height == season.height + 1


def test_empty_folders_give_the_columns(bare: Path, home: Path) -> None:
    for table in (steadyband.weeks, steadyband.unreadable, steadyband.surges, steadyband.climbs, steadyband.seconds):
        empty = table(bare)
        assert empty.is_empty()
        assert len(empty.columns) > 1
    assert steadyband.weeks(bare).schema == steadyband.weeks(home).schema


def test_dates_are_dates(season: pl.DataFrame) -> None:
    assert season.schema["local_date"] == season.schema["zones_test_date"] == pl.Date
    assert season.schema["start"] == pl.Datetime("us", "UTC")
    assert season.schema["local_start"] == pl.Datetime("us")
    assert season["local_start"].dt.date().equals(season["local_date"], null_equal=True)


def test_every_column_of_the_contract_has_a_kind(ride: steadyband.Audit) -> None:
    flat = audit_to_flat(ride)
    assert list(season_columns())[: len(flat)] == list(flat)


def test_within_a_session(ride: steadyband.Audit) -> None:
    rows, surges, climbs = steadyband.seconds(ride), steadyband.surges(ride), steadyband.climbs(ride)
    assert rows.height == len(ride.traces.ribbon)
    assert rows["elapsed_s"].to_list() == list(range(rows.height))
    assert rows["grade"].drop_nulls().len() > rows.height / 2
    assert rows["lat_deg"].null_count() > 0, "start and end are left out"
    assert surges.height == (ride.surges.count if ride.surges else None)
    assert climbs.height == len(ride.climbs)
    assert steadyband.surges([ride, ride]).height == 2 * surges.height
    assert steadyband.surges([]).schema == surges.schema


def test_a_season_by_other_edges(home: Path, season: pl.DataFrame) -> None:
    """Edges far above every ride: no surge is left, and the runs keep their own test."""
    high = steadyband.given_edges(50, 900, 1000)
    assert steadyband.surges(steadyband.audits(home, test=high)).filter(sport="cycling").is_empty()
    found = steadyband.sessions(home, test=high)
    same = pl.col("sport") == "running"
    assert found.filter(same).select("file", "in_band").equals(season.filter(same).select("file", "in_band"))
    assert steadyband.review(home, date(2026, 5, 17), test=high).name == "2026-W20"


def test_geojson_by_the_rules(ride: steadyband.Audit) -> None:
    """RFC 7946: [longitude, latitude], lines of two places or more, an unlocated feature has the geometry null."""
    found = json.loads(json.dumps(steadyband.geojson(ride), allow_nan=False))
    assert found["type"] == "FeatureCollection"
    kinds = [item["properties"]["kind"] for item in found["features"]]
    assert (kinds.count("surge"), kinds.count("climb")) == (29, len(ride.climbs))
    located = [item["geometry"] for item in found["features"] if item["geometry"]]
    for shape in located:
        places = [shape["coordinates"]] if shape["type"] == "Point" else shape["coordinates"]
        assert all(-180 <= lon <= 180 and -90 <= lat <= 90 for lon, lat in places)
        assert shape["type"] == "Point" or len(places) >= 2
    lat = steadyband.seconds(ride)["lat_deg"]
    assert {shape["type"] for shape in located} == {"Point", "LineString"}
    assert all(lat.min() <= shape["coordinates"][1] <= lat.max() for shape in located if shape["type"] == "Point")  # type: ignore[operator]


def test_privacy_holds_in_geojson(home: Path, tmp_path: Path) -> None:
    """Within 5 km of start and end of a ride on one island nothing is located."""
    private = tmp_path / "private"
    private.mkdir()
    text = (home / "athlete.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("privacy_m")]
    (private / "athlete.toml").write_text("\n".join(["privacy_m = 5000", *lines]) + "\n", encoding="utf-8")
    shutil.copytree(home / "tests", private / "tests")
    audits = steadyband.audit(RIDE, private)
    near, usual = steadyband.geojson(audits), steadyband.geojson(steadyband.audit(RIDE, home))
    located = [sum(item["geometry"] is not None for item in found["features"]) for found in (near, usual)]
    assert located[0] < located[1]
    assert len(near["features"]) == len(usual["features"])


def test_the_command_writes_geojson(tmp_path: Path) -> None:
    done = run("audit", RIDE, "--format", "geojson", "--out", tmp_path / "ride.geojson")
    assert done.returncode == 0, done.stderr
    assert json.loads((tmp_path / "ride.geojson").read_text(encoding="utf-8"))["type"] == "FeatureCollection"
    hidden = json.loads(run("audit", RIDE, "--format", "geojson", "--no-positions").stdout)
    assert {item["geometry"] for item in hidden["features"]} == {None}


def test_written_once_and_appended_to(season: pl.DataFrame, tmp_path: Path) -> None:
    before = season.filter(pl.col("local_date") < date(2026, 5, 10))
    first = dataset.append(tmp_path, before, "a1")
    assert sorted(path.parent.relative_to(tmp_path).as_posix() for path in first) == [
        "sessions/month=2026-04/athlete=a1",
        "sessions/month=2026-05/athlete=a1",
    ]
    stamps = {path: path.stat().st_mtime_ns for path in first}
    (more,) = dataset.append(tmp_path, season, "a1")
    assert {path: path.stat().st_mtime_ns for path in first} == stamps, "what was written stays as it is"
    assert pl.read_parquet(more).height == season.height - before.height
    assert dataset.append(tmp_path, season, "a1") == ()
    assert steadyband.scan_dataset(tmp_path).collect().height == season.height
    changed = season.with_columns(
        intent=pl.when(pl.col("local_date") == date(2026, 5, 16)).then(pl.lit("race")).otherwise("intent")
    )
    assert len(dataset.append(tmp_path, changed, "a1")) == 1
    found = steadyband.scan_dataset(tmp_path).collect()
    assert found.height == season.height
    assert found.filter(pl.col("intent") == "race").height == 1


def test_a_hundred_athletes_scanned_lazily(season: pl.DataFrame, tmp_path: Path) -> None:
    """100 athletes with 22 sessions each (moved by a day, so that they differ): counts by hand, and a month's files alone are read."""
    for number in range(100):
        moved = season.with_columns(pl.col("local_date") + timedelta(days=number % 2))
        dataset.append(tmp_path, moved, f"a{number:03d}")
    scan = steadyband.scan_dataset(tmp_path)
    assert isinstance(scan, pl.LazyFrame)
    counts = scan.group_by("athlete").len().collect()
    assert (counts.height, set(counts["len"])) == (100, {season.height})
    one = scan.filter((pl.col("athlete") == "a042") & (pl.col("month") == "2026-05")).select("surges_count", "athlete")
    assert one.collect().height == season.filter(pl.col("local_date") >= date(2026, 5, 1)).height
    (tmp_path / "sessions" / "month=2026-04" / "athlete=a007" / "broken.parquet").write_bytes(b"no parquet")
    assert one.collect().height > 0, "files of other athletes are not opened"


def test_no_words_no_paths_no_names_in_a_dataset(home: Path, tmp_path: Path) -> None:
    written = steadyband.add_to_dataset(tmp_path, home)
    assert written
    found = steadyband.scan_dataset(tmp_path).collect()
    assert {"path", "note", "illness"}.isdisjoint(found.columns)
    assert str(home) not in str(found.to_dict(as_series=False))
    with pytest.raises(steadyband.SteadybandError, match="expected an ID"):
        steadyband.add_to_dataset(tmp_path, home, "../x")
    with pytest.raises(steadyband.SteadybandError, match="found no folder"):
        steadyband.scan_dataset(tmp_path / "nowhere")
    (tmp_path / "empty").mkdir()
    assert steadyband.scan_dataset(tmp_path / "empty").collect().schema == found.schema
