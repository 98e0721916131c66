"""The fast GPX reader against gpxpy and ElementTree, on real, random, damaged and hostile texts."""

from __future__ import annotations

import time
from datetime import datetime
from pathlib import Path
from random import Random

import numpy as np
import pytest
from gpx_random import CHANNELS, by_gpxpy, comparable, mutated, random_gpx
from hypothesis import given, settings
from hypothesis import strategies as st

from conftest import recording_files
from steadyband.recording.gpx.digits import floats
from steadyband.recording.gpx.points import Scanner
from steadyband.recording.gpx.stream import read_tracks
from steadyband.recording.gpx.text import decoded
from steadyband.recording.gpx.times import one_time, unix_times
from steadyband.recording.not_covered import NotCovered

LONGEST_S = 2.0
"""No case may take longer (the requirement; here in processor time, so that a busy machine does not fail it)."""

SEEDS = st.integers(0, 2**32 - 1)
HEAD = '<gpx version="1.1" creator="made up" xmlns="http://www.topografix.com/GPX/1/1" xmlns:a="urn:a">'


def gpx(*points: str) -> str:
    return f"{HEAD}<trk><type>ride</type><trkseg>{''.join(points)}</trkseg></trk></gpx>"


def point(second: int, more: str = "") -> str:
    return f'<trkpt lat="45.{second:02d}" lon="7.5"><ele>300.5</ele><time>2026-05-02T06:00:{second:02d}Z</time>{more}</trkpt>'


def compared(text: str) -> bool:
    """True where both gave the same, False where the reader left the text to gpxpy; anything else fails."""
    began = time.process_time()
    try:
        found = read_tracks(text, CHANNELS)
    except NotCovered:
        found = None
    assert time.process_time() - began < LONGEST_S
    if found is not None:
        assert comparable(found) == by_gpxpy(text)
    return found is not None


@pytest.mark.parametrize("path", recording_files("gpx"), ids=lambda p: p.name)
def test_real_files_as_gpxpy_reads_them(path: Path) -> None:
    """Reference libraries gpxpy 1.6 and ElementTree, see gpx_random.by_gpxpy; all are covered."""
    assert compared(decoded(path.read_bytes(), path.name).text)


@settings(max_examples=200, deadline=None)
@given(SEEDS)
def test_usual_texts_are_all_covered(seed: int) -> None:
    """GPX 1.0 and 1.1, several markups in turn, prefixes, zones and fractions of times."""
    assert compared(random_gpx(Random(seed), odd=0.0))


@settings(max_examples=200, deadline=None)
@given(SEEDS)
def test_odd_texts_are_read_alike_or_left(seed: int) -> None:
    """Comments, entities and sections in points, waypoints, values that are no numbers, points without any."""
    compared(random_gpx(Random(seed), odd=0.1))


@settings(max_examples=400, deadline=None)
@given(SEEDS)
def test_damaged_texts_are_read_alike_or_left(seed: int) -> None:
    rng = Random(seed)
    compared(mutated(rng, random_gpx(rng, odd=0.05, points=6)))


def test_a_plain_ride() -> None:
    # By hand: 2026-05-02T06:00:00Z is 1 777 701 600 Unix seconds (20 575 days of 86 400 s, and 6 h).
    more = "<extensions><power>2{0}</power><a:T><a:hr>13{0}</a:hr></a:T></extensions>"
    (track,) = read_tracks(gpx(*(point(i, more.format(i)) for i in range(3))), CHANNELS).tracks
    (segment,) = track.segments
    assert track.kind == "ride"
    assert segment["time_s"].tolist() == [1777701600.0, 1777701601.0, 1777701602.0]
    assert segment["lat_deg"].tolist() == [45.0, 45.01, 45.02]
    assert segment["altitude_m"].tolist() == [300.5] * 3
    assert segment["power_w"].tolist() == [20.0, 21.0, 22.0]
    assert segment["heart_rate_bpm"].tolist() == [130.0, 131.0, 132.0]


def test_markups_in_turn_keep_file_order() -> None:
    # By hand: heart rate only in every third point.
    points = [point(i, f"<extensions><a:hr>{100 + i}</a:hr></extensions>" if i % 3 == 0 else "") for i in range(7)]
    (track,) = read_tracks(gpx(*points), CHANNELS).tracks
    np.testing.assert_array_equal(np.diff(track.segments[0]["time_s"]), 1.0)
    expected = [100, np.nan, np.nan, 103, np.nan, np.nan, 106]
    np.testing.assert_array_equal(track.segments[0]["heart_rate_bpm"], expected)


def test_most_points_leave_the_text_before_it_is_parsed() -> None:
    text = gpx(*(point(i % 60) + "\n" for i in range(1000)))
    scanner = Scanner(text)
    assert [stretch.count for stretch in scanner.stretches] == [1000]
    assert len(scanner.rest) < 500


@pytest.mark.parametrize(
    "text",
    [
        gpx("<!-- ", point(1), point(2), " -->", point(3)),
        gpx("<![CDATA[", point(1), point(2), "]]>", point(3)),
        gpx(point(1), point(2)).replace("<trk>", f"<trk><name>{point(3).replace('<', '&lt;')}</name>"),
        gpx(point(1), "<extensions>", point(2), point(3), "</extensions>", point(4)),
        gpx(point(1), point(2)).replace("<trkseg>", "<extensions><trkseg>").replace("</trkseg>", "</trkseg></extensions>"),
        gpx(point(1, '<a xmlns="urn:b"><hr>1</hr></a>'), point(2, '<a xmlns="urn:b"><hr>2</hr></a>')).replace("xmlns=\"http://www.topografix.com/GPX/1/1\" ", ""),
        gpx(point(1, "<b:hr>1</b:hr>"), point(2, "<b:hr>2</b:hr>")),
        gpx(point(1).replace("</trkpt>", ""), point(2)),
        gpx(point(1, "<fix>3d</fix>"), point(2, "<fix>4d</fix>")),
        gpx(point(1, "<sat>3</sat>"), point(2, "<sat>3.5</sat>")),
        gpx(point(1), point(2).replace("300.5", "hole-0.0.0")),
        gpx(point(1), point(2).replace('lat="45.02"', 'lat="45.02" lat="1"')),
        gpx(point(1).replace("7.5", "nan"), point(2).replace("7.5", "inf"), point(3).replace("7.5", "1_0")),
        gpx(point(1).replace("06:00", "24:00"), point(2).replace("02T", "32T")),
    ],
)  # fmt: skip
def test_traps_are_read_alike_or_left(text: str) -> None:
    compared(text)


BOMB = "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True))


@pytest.mark.parametrize(
    "text",
    [
        f'<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa">{BOMB}]>' + gpx(point(1)).replace("ride", "&i;"),
        '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]>' + gpx(point(1)).replace("ride", "&a;"),
        gpx("<a>" * 300_000, "</a>" * 300_000),
        gpx("<a>" * 300_000),
        HEAD + "<trkpt" * 300_000,
        HEAD + "<trk><trkseg>" + '<trkpt lat="1" lon="2">' * 100_000,
        gpx(*(f'<trkpt lat="1" lon="2"><x{i}>1</x{i}></trkpt>' for i in range(30_000))),
        gpx("<trkpt " + 'a="1" ' * 200_000),
    ],
    ids=["entity bomb", "external entity", "deep", "deep and open", "starts", "open points", "kinds", "attributes"],
)
def test_hostile_texts_are_left_at_once(text: str) -> None:
    assert not compared(text)


TIME_PIECES = st.tuples(
    st.integers(0, 9999), st.integers(0, 13), st.integers(0, 32), st.integers(0, 25), st.integers(0, 61), st.integers(0, 61)
)  # fmt: skip
ZONES = st.sampled_from(
    [
        "Z",
        "",
        ".5Z",
        ".25Z",
        ".123456Z",
        ".1234567Z",
        ".12345.7Z",
        ".+1Z",
        "0530",
        "5Z",
        "+02:00",
        "-0530",
        "+25:00",
        "z",
        "Z\n",
    ]
)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(TIME_PIECES, ZONES), max_size=12))
def test_times_as_gpxpy_reads_them(pieces: list[tuple[tuple[int, ...], str]]) -> None:
    """Reference library gpxpy 1.6: gpxfield.parse_time(text).timestamp(), one by one."""
    texts = ["{:04d}-{:02d}-{:02d}T{:02d}:{:02d}:{:02d}".format(*numbers) + zone for numbers, zone in pieces]
    np.testing.assert_array_equal(unix_times(texts), [one_time(text) for text in texts])


@settings(max_examples=100, deadline=None)
@given(st.lists(st.datetimes().map(lambda t: t.isoformat(timespec="milliseconds") + "Z"), min_size=1, max_size=50))
def test_valid_times_as_python_reads_them(texts: list[str]) -> None:
    """Reference library: datetime.fromisoformat of Python 3.11 and .timestamp()."""
    np.testing.assert_array_equal(unix_times(texts), [datetime.fromisoformat(text).timestamp() for text in texts])


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.one_of(st.decimals(-1000, 1000, places=3), st.integers(-300, 300), st.floats(allow_nan=False)), max_size=20
    )
)
def test_numbers_as_float_reads_them(numbers: list[object]) -> None:
    """Reference: float() of Python, one by one, to the last bit."""
    texts = [str(number) for number in numbers]
    assert floats(texts).tobytes() == np.array([float(text) for text in texts], dtype=np.float64).tobytes()


@settings(max_examples=300, deadline=None)
@given(st.lists(st.text("0123456789.-+e_ ", max_size=6), min_size=1, max_size=3))
def test_anything_like_a_number_as_float_reads_it(texts: list[str]) -> None:
    """Reference: float() of Python, one by one, and refused where it refuses."""
    try:
        expected = np.array([float(text) for text in texts], dtype=np.float64).tobytes()
    except ValueError:
        expected = b"refused"
    try:
        found = floats(texts).tobytes()
    except ValueError:
        found = b"refused"
    assert found == expected


@pytest.mark.parametrize("text", ["", " ", "1 2", "--1", "1.2.3", ".", "-", "1,5", "x"])
def test_what_is_no_number_is_refused(text: str) -> None:
    # By hand: float() of Python refuses each of them.
    with pytest.raises(ValueError, match="float"):
        floats(["12.5", text])
