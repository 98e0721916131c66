"""GPX: extensions, segments, sports, derived speed and distance, refusals, damage."""

from __future__ import annotations

import numpy as np
import pytest
from gpx_text_samples import HEAD, gpx, point, ride, track
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.ground.errors import DamagedRecordingError, NoTimedTrackError, RecordingError
from steadyband.recording import read, to_rows
from steadyband.recording.geo import step_m
from steadyband.recording.gpx.tracks import sport_of

UNIX_2026_05_02_06H = 1777701600
"""2026-05-02T06:00:00Z; by hand: 20,575 days after 1970-01-01 (56 years with 14 leap days, 31+28+31+30+1 days) x 86,400
+ 21,600."""


def test_times_are_unix_seconds() -> None:
    assert read(ride()).sessions[0].time_s[[0, 29]].tolist() == [UNIX_2026_05_02_06H, UNIX_2026_05_02_06H + 29]


@pytest.mark.parametrize(
    ("time", "expected"),
    [
        ("2026-05-02T06:00:00", 0),  # published: GPX 1.1 schema, times are UTC
        ("2026-05-02T08:00:00+02:00", 0),
        ("2026-05-02T06:00:00.250Z", 0.25),
        ("2026-05-02T01:30:00-0430", 0),
    ],
)
def test_time_zones(time: str, expected: float) -> None:
    data = gpx(track(f'<trkpt lat="1" lon="2"><time>{time}</time></trkpt>'))
    assert read(data).sessions[0].time_s.tolist() == [UNIX_2026_05_02_06H + expected]


@pytest.mark.parametrize(
    ("element", "channel"),
    [
        ("hr", "heart_rate_bpm"),
        ("heartrate", "heart_rate_bpm"),
        ("HR", "heart_rate_bpm"),
        ("cad", "cadence_rpm"),
        ("cadence", "cadence_rpm"),
        ("power", "power_w"),
        ("watts", "power_w"),
        ("PowerInWatts", "power_w"),
        ("speed", "speed_mps"),
        ("atemp", "temperature_c"),
        ("temp", "temperature_c"),
    ],
)
@pytest.mark.parametrize(
    "wrapped",
    [
        "<extensions><{0}>77</{0}></extensions>",
        "<extensions><a:{0}>77</a:{0}></extensions>",
        "<extensions><b:Outer><a:Inner><b:{0}> 77 </b:{0}></a:Inner></b:Outer></extensions>",
        '<extensions><{0} xmlns="urn:c">77.0</{0}></extensions>',
    ],
)
def test_extensions_by_local_name_in_any_namespace(element: str, channel: str, wrapped: str) -> None:
    (session,) = read(gpx(track(point(0, more=wrapped.format(element)) + point(1)))).sessions
    values = session.channels[channel]
    assert values[0] == 77
    assert np.isnan(values[1])


def test_gpx_10_with_extension_elements_and_speed() -> None:
    head = HEAD.replace("1.1", "1.0").replace("GPX/1/1", "GPX/1/0")
    more = "<speed>3.5</speed><a:hr>120</a:hr>"
    (session,) = read(gpx(track(point(0, more=more)), head=head)).sessions
    assert session.channels["speed_mps"].tolist() == [3.5]
    assert session.channels["heart_rate_bpm"].tolist() == [120]


def test_unreadable_extension_is_missing() -> None:
    more = "<extensions><hr>--</hr><power>inf</power><cad/></extensions>"
    channels = read(gpx(track(point(0, more=more)))).sessions[0].channels
    assert not {"heart_rate_bpm", "power_w", "cadence_rpm"} & set(channels)


def test_prefixed_gpx_elements() -> None:
    data = ride(3).decode().replace("<?xml", "<!xml").replace("xmlns=", "xmlns:g=")
    for name in ("gpx", "trkseg", "trkpt", "trk", "ele", "time", "type", "extensions"):
        data = (
            data.replace(f"<{name}>", f"<g:{name}>")
            .replace(f"<{name} ", f"<g:{name} ")
            .replace(f"</{name}>", f"</g:{name}>")
        )
    (session,) = read(data.replace("<!xml", "<?xml").encode()).sessions
    assert len(session.time_s) == 3
    assert session.channels["heart_rate_bpm"].tolist() == [130] * 3


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_encodings(encoding: str) -> None:
    text = ride(2).decode().replace("<type>", "<name>Über den Paß</name><type>")
    declared = "UTF-16" if encoding == "utf-16" else encoding.removesuffix("-sig").upper()
    data = text.replace("UTF-8", declared).encode(encoding)
    recording = read(data)
    assert recording.sessions[0].name == "Über den Paß"
    assert recording.damage is None


def test_wrong_encoding_is_said() -> None:
    data = ride(2).replace(b"<type>", b"<name>Pa\xdf</name><type>")
    recording = read(data)
    assert len(recording.sessions[0].time_s) == 2
    assert recording.damage is not None
    assert "not UTF-8 text" in recording.damage


def test_segments_are_breaks_and_distance_stops_between_them() -> None:
    # By hand: 0.001 degrees of latitude on a sphere of 6,371,008.8 m are 111.195 m; 0 and 1 are one segment, 3 and 4 the
    # other, so the second segment begins at the distance where the first ended.
    first, second = point(0, 45.0) + point(1, 45.001), point(3, 45.1) + point(4, 45.101)
    (session,) = read(gpx(track(first, second))).sessions
    assert session.breaks == (UNIX_2026_05_02_06H + 3,)
    assert session.channels["distance_m"] == pytest.approx([0, 111.195, 111.195, 222.390], abs=0.01)
    rows = to_rows(session)
    assert rows.stretch.tolist() == [0, 0, 0, 1, 1]


def test_speed_is_of_the_seconds_until_the_next_point() -> None:
    # By hand: 111.195 m in 5 s are 22.239 m/s, in 10 s 11.1195 m/s; the last point keeps the one before.
    data = gpx(track(point(0, 45.0) + point(5, 45.001) + point(15, 45.002)))
    recording = read(data)
    (session,) = recording.sessions
    assert session.channels["speed_mps"] == pytest.approx([22.239, 11.1195, 11.1195], abs=0.001)
    assert {note.channel for note in recording.notes if note.code == "derived"} == {"speed_mps", "distance_m"}


def test_the_files_own_speed_is_kept() -> None:
    data = gpx(track(point(0, 45.0, more="<extensions><speed>4</speed></extensions>") + point(1, 45.001)))
    recording = read(data)
    assert recording.sessions[0].channels["speed_mps"][0] == 4
    assert {note.channel for note in recording.notes if note.code == "derived"} == {"distance_m"}


def test_equal_times_give_no_speed() -> None:
    (session,) = read(gpx(track(point(0, 45.0) + point(0, 45.001)))).sessions
    assert "speed_mps" not in session.channels


def test_points_are_put_in_order_and_counted() -> None:
    data = gpx(track(point(2, 45.002) + point(0, 45.0) + point(1, 45.001) + '<trkpt lat="1" lon="1"/>'))
    recording = read(data)
    (session,) = recording.sessions
    assert session.channels["lat_deg"].tolist() == [45.0, 45.001, 45.002]
    assert session.dropped == 1
    assert {note.code: note.count for note in recording.notes if note.count} == {"untimed": 1, "order": 1}


def test_tracks_of_different_sport_or_an_hour_apart_are_sessions() -> None:
    bike, run = track(point(0) + point(1)), track(point(100) + point(101), kind="running")
    more = track(point(200) + point(201), kind="running")
    assert [(s.sport, len(s.time_s)) for s in read(gpx(more, bike, run)).sessions] == [("cycling", 2), ("running", 4)]
    early = track(point(0)), track(point(3599))
    later = track(point(0)), track(point(0).replace("T06:00:00", "T07:00:01"))
    assert len(read(gpx(*early)).sessions) == 1
    assert len(read(gpx(*later)).sessions) == 2


@pytest.mark.parametrize(
    ("words", "sport"),
    [
        ("cycling", "cycling"),
        ("Biking", "cycling"),
        ("road_biking", "cycling"),
        ("VirtualRide", "cycling"),
        ("mountain bike", "cycling"),
        ("running", "running"),
        ("Trail Run", "running"),
        ("walking", "walking"),
        ("Hike", "hiking"),
        ("swimming", "swimming"),
        ("1", "unknown"),
        ("", "unknown"),
        (None, "unknown"),
        ("e-bike", "unknown"),
        ("motorcycling", "unknown"),
        ("run/bike", "unknown"),
        ("yoga", "unknown"),
    ],
)
def test_sport_words(words: str | None, sport: str) -> None:
    # Common practice, no source: plain words in the track's type.
    assert sport_of(words) == sport


def test_name_and_device() -> None:
    recording = read(gpx("<trk><name>Lake loop</name><type>running</type><trkseg>" + point(0) + "</trkseg></trk>"))
    assert (recording.sessions[0].name, recording.sessions[0].sport) == ("Lake loop", "running")
    assert recording.device == "test"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("", "a frame without points"),
        ('<wpt lat="1" lon="2"><time>2026-05-02T06:00:00Z</time></wpt>', "1 waypoint"),
        ('<rte><rtept lat="1" lon="2"/><rtept lat="1" lon="2"/></rte>', "2 route points"),
        (track('<trkpt lat="1" lon="2"/>'), "1 track point without a time"),
        (track('<trkpt lat="1" lon="2"><time>yesterday</time></trkpt>'), "1 track point without a time"),
        (track(point(0).replace('lat="45.0"', 'lat="north"')), "1 value or point that is no number"),
    ],
)
def test_no_timed_track_says_what_there_is(body: str, said: str) -> None:
    with pytest.raises(NoTimedTrackError, match="holds no timed track, only " + said):
        read(gpx(body))


@pytest.mark.parametrize(
    "declaration", ['<!DOCTYPE gpx [<!ENTITY a "aaaa">]>', '<!DOCTYPE gpx SYSTEM "file:///etc/passwd">']
)
def test_entity_declarations_are_refused(declaration: str) -> None:
    data = ride(2).replace(b"<gpx", declaration.encode() + b"<gpx", 1)
    for encoded in (data, data.decode().replace("UTF-8", "UTF-16").encode("utf-16")):
        with pytest.raises(RecordingError, match="declares a document type or entities"):
            read(encoded)


def test_endless_nesting_is_refused() -> None:
    deep = "<a>" * 100_000 + "</a>" * 100_000
    with pytest.raises(RecordingError, match="deep in each other"):
        read(gpx(track(point(0, more=f"<extensions>{deep}</extensions>"))))


def test_one_bad_value_does_not_cost_the_file() -> None:
    data = ride(5).decode().replace("<ele>300</ele>", "<ele>high</ele>", 1).encode()
    recording = read(data)
    altitude = recording.sessions[0].channels["altitude_m"]
    assert np.isnan(altitude[0])
    assert altitude[1:].tolist() == [300] * 4
    assert recording.sessions[0].channels["power_w"].tolist() == [200] * 5
    assert [(note.code, note.count) for note in recording.notes if note.code == "unreadable"] == [("unreadable", 1)]


def test_broken_xml_is_read_up_to_there() -> None:
    whole = ride(10).decode()
    cut_at = [i for i in range(len(whole)) if whole.startswith("<trkpt", i)][6] + 20
    for broken in (whole[:cut_at], whole[:cut_at] + "<<&" + whole[cut_at:]):
        recording = read(broken.encode())
        assert len(recording.sessions[0].time_s) == 6
        assert recording.damage is not None
        assert "broken at character" in recording.damage
        assert "the 6 track points before it were read" in recording.damage


def test_broken_before_the_first_point_is_refused() -> None:
    with pytest.raises(DamagedRecordingError, match="before the first whole track point"):
        read(ride()[:330])


def test_positions_outside_the_earth_are_missing() -> None:
    (session,) = read(gpx(track(point(0, 91.0) + point(1, 45.0) + point(2, 45.0, 181.0)))).sessions
    assert np.isfinite(session.channels["lat_deg"]).tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("start", "end", "metres"),
    [
        # From memory, WGS84 ellipsoid: a degree of latitude is 110,574 m at the equator, 111,132 m at 45 degrees and
        # 111,694 m at the poles; a degree of longitude is 111,320 m at the equator and 78,847 m at 45 degrees.
        ((0, 0), (1, 0), 110574),
        ((44.5, 10), (45.5, 10), 111132),
        ((89, 0), (90, 0), 111694),
        ((0, 0), (0, 1), 111320),
        ((45, 7), (45, 8), 78847),
        ((0, 179.5), (0, -179.5), 111320),
    ],
)
def test_distance_is_within_0_6_percent_of_the_ellipsoid(
    start: tuple[float, float], end: tuple[float, float], metres: float
) -> None:
    found = step_m(np.array([start[0], end[0]], float), np.array([start[1], end[1]], float))
    assert found == pytest.approx([metres], rel=0.006)


def test_distance_limits() -> None:
    # By hand: half the circumference of a sphere of 6,371,008.8 m is pi x that = 20,015,114.4 m.
    assert step_m(np.array([0.0, 0.0]), np.array([0.0, 180.0])) == pytest.approx([20015114.4], abs=1)
    assert step_m(np.array([45.0, 45.0]), np.array([7.0, 7.0])).tolist() == [0]
    assert np.isnan(step_m(np.array([45.0, np.nan]), np.array([7.0, 7.0]))).all()
    assert len(step_m(np.array([45.0]), np.array([7.0]))) == 0


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_any_text_is_read_or_refused(data: st.DataObject) -> None:
    mutated = bytearray(ride(4))
    for _ in range(data.draw(st.integers(1, 5))):
        at = data.draw(st.integers(0, len(mutated) - 1))
        if data.draw(st.booleans()):
            mutated[at] = data.draw(st.integers(0, 255))
        else:
            mutated[at:at] = data.draw(
                st.sampled_from([b"<", b"</trkpt>", b"&", b'"', b"<!--", b"\x00", b"}", b"1e999", b" xmlns:x=''"])
            )
    try:
        for session in read(bytes(mutated)).sessions:
            to_rows(session)
    except RecordingError as error:
        assert "\n" not in error.message  # noqa: PT017


def test_space_around_times_means_nothing() -> None:
    """XML Schema 1.0 part 2, 3.2.7: white space around a dateTime collapses. Some exporters write a line a value."""
    points = "".join(
        f'<trkpt lat="50.{i:03}" lon="8"><time>{before}2026-05-02T06:00:{i:02}Z{after}</time></trkpt>'
        for i, (before, after) in enumerate([("", ""), (" ", ""), ("\n\t", "\n"), ("", "  ")] * 5)
    )
    text = f'<gpx version="1.1" creator="ours" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}</trkseg></trk></gpx>'
    recording = read(text.encode())
    assert np.diff(recording.sessions[0].time_s).tolist() == [1.0] * 19
    assert recording.sessions[0].dropped == 0


def test_values_that_nothing_has_are_left_out_and_told() -> None:
    points = "".join(
        f'<trkpt lat="50.{i:03}" lon="8"><ele>{"1e300" if i == 3 else 100}</ele><time>2026-05-02T06:00:{i:02}Z</time>'
        f"<extensions><hr>{'1e308' if i == 4 else 120}</hr></extensions></trkpt>"
        for i in range(9)
    )
    text = f'<gpx version="1.1" creator="ours" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}</trkseg></trk></gpx>'
    recording = read(text.encode())
    channels = recording.sessions[0].channels
    assert np.flatnonzero(np.isnan(channels["altitude_m"])).tolist() == [3]
    assert np.flatnonzero(np.isnan(channels["heart_rate_bpm"])).tolist() == [4]
    assert [note.count for note in recording.notes if note.code == "huge"] == [2]
