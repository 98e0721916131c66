"""The public face as a scientist meets it in a notebook: every name listed, text or path, short texts, equality, pictures."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

import steadyband
import steadyband.audit.model
import steadyband.review.week
from conftest import DEMO
from steadyband.ground.alike import same

RIDE = DEMO / "activities" / "2026-W20" / "2026-05-16-moor-tracks.fit"
TEST = DEMO / "tests" / "2026-04-20-bike.toml"
START = datetime(2026, 5, 16, 8, tzinfo=UTC)


@pytest.fixture(scope="module")
def ride() -> steadyband.Audit:
    return steadyband.audit(str(RIDE))[0]


def test_every_name_is_there_and_listed() -> None:
    assert [name for name in steadyband.__all__ if getattr(steadyband, name, None) is None] == []
    assert dir(steadyband) == sorted(steadyband.__all__)
    assert [name for name in dir(steadyband) if name[0] != "_" and not getattr(steadyband, name).__doc__] == []


def test_rooms_do_not_hide_the_functions_of_their_name() -> None:
    assert callable(steadyband.audit)
    assert callable(steadyband.review)


def test_text_and_path_alike(ride: steadyband.Audit) -> None:
    assert steadyband.audit(RIDE, DEMO)[0] == ride
    assert steadyband.load_test(str(TEST)) == steadyband.load_test(TEST)
    assert steadyband.open_folder(str(DEMO)) == steadyband.open_folder(DEMO)
    assert steadyband.read(str(RIDE)) == steadyband.read(RIDE)


def test_equality_tells_different_from_equal(ride: steadyband.Audit) -> None:
    other = steadyband.audit(RIDE, test=steadyband.given_edges(150, 180, 200))[0]
    assert other != ride
    assert ride != "a ride"
    assert same(math.nan, math.nan)
    assert not same({"a": 1}, {"b": 1})


def test_texts_are_short(ride: steadyband.Audit) -> None:
    home = steadyband.open_folder(DEMO)
    shown = [repr(item) for item in (ride, steadyband.read(RIDE), home, home.zone_sets[0], home.zone_sets[0].test)]
    assert max(map(len, shown)) < 120
    assert shown[0] == "Audit(2026-05-16 09:00 cycling, 110 min active: surges; 2026-05-16-moor-tracks.fit)"


def test_pictures_without_scripts(ride: steadyband.Audit) -> None:
    zones = steadyband.make_zones(steadyband.load_test(TEST))
    for page in (ride._repr_html_(), zones._repr_html_(), zones.test._repr_html_()):
        assert page is not None
        assert "<svg" in page
        assert "<script" not in page
    assert "29 micro-surges" in str(ride._repr_html_())
    assert str(zones._repr_html_()).count("<circle") == sum(len(step.samples) for step in zones.test.steps)


def test_old_recordings_by_a_newer_test(tmp_path: Path, ride: steadyband.Audit) -> None:
    """The ride of 16 May by a test of 1 September, and by edges that it never left."""
    newer = tmp_path / "newer.toml"
    newer.write_text(TEST.read_text(encoding="utf-8").replace("2026-04-20", "2026-09-01"), encoding="utf-8")
    found = steadyband.audit(RIDE, test=newer)[0]
    assert found.zones is not None and ride.zones is not None  # noqa: PT018
    assert found.zones.age_days == -108  # by hand: 15 days of May, 30, 31, 31 and 1
    assert found.zones.ceiling == ride.zones.ceiling
    high = steadyband.audit(RIDE, test=steadyband.given_edges(50, 500, 600))[0]
    assert (high.verdict.in_band, high.surges and high.surges.count) == (True, 0)


def test_own_rows_without_a_file() -> None:
    """An hour at 150 W between a floor of 139 and a ceiling of 168 W is an hour in the steady band, whatever carries the rows."""
    edges = steadyband.given_edges(139, 157, 168)
    columns = {"elapsed_s": list(range(3600)), "power_w": [150.0] * 3600}
    made = [
        steadyband.recording_from(table, sport="cycling", start=START)
        for table in (columns, pl.DataFrame(columns), pl.DataFrame(columns).sort("elapsed_s", descending=True))
    ]
    assert made[0] == made[1]
    found = [steadyband.audit(item, test=edges)[0] for item in made]
    assert {item.verdict.in_band for item in found} == {True}
    assert [item.bands and item.bands["steady"].seconds for item in found] == [3600] * 3
    hard = steadyband.audit(made[0], test=edges, intent="hard", settings={"surges": {"window_s": 8}})[0]
    assert (hard.info.intent, hard.verdict.in_band, hard.settings.surges.window_s) == ("hard", None, 8)


def test_paces_on_foot() -> None:
    """5:00 min/km is 1,000 m in 300 s."""
    edges = steadyband.given_edges("6:00", "5:30", "5:00", sport="running", unit="min/km")
    assert edges.edges.ceiling == pytest.approx(1000 / 300)
    run = steadyband.recording_from({"speed_mps": [2.9] * 1800}, sport="running", start=START)
    assert steadyband.audit(run, test=edges)[0].verdict.in_band


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: steadyband.recording_from({"watts": [1]}, sport="cycling", start=START), "columns such as power_w"),
        (lambda: steadyband.recording_from({"power_w": [1.0]}, sport="cycling"), "a start with its time zone"),
        (lambda: steadyband.recording_from({"power_w": []}, sport="cycling", start=START), "with rows"),
        (lambda: steadyband.recording_from({"power_w": ["x"]}, sport="cycling", start=START), "expected numbers"),
        (
            lambda: steadyband.recording_from({"power_w": [1], "elapsed_s": [1, 2]}, sport="cycling", start=START),
            "equal length",
        ),
        (lambda: steadyband.given_edges(168, 157, 139), "to rise"),
        (lambda: steadyband.given_edges("fast", 157, 168), "three loads in W"),
        (
            lambda: steadyband.audit(steadyband.recording_from({"power_w": [1.0]}, sport="cycling", start=START)),
            "an athlete folder or a test",
        ),
        (lambda: steadyband.audit(RIDE, settings={"surges": {"windows": 8}}), "no such setting"),
        (lambda: steadyband.audit(RIDE, intent="fun"), "endurance"),
        (lambda: steadyband.open_folder("nowhere"), "athlete folder"),
    ],
)
def test_what_is_wrong_is_said(call: object, sentence: str) -> None:
    with pytest.raises(steadyband.SteadybandError, match=sentence):
        call()  # type: ignore[operator]
