"""FIT: facts of the protocol, sessions, pauses, developer fields, kinds that are refused, damage."""

from __future__ import annotations

import struct
from datetime import UTC, datetime

import fitdecode
import numpy as np
import pytest
from fit_bytes import (
    COURSE,
    CYCLING,
    DESCRIPTION,
    DEVELOPER_ID,
    ENUM,
    LAP,
    RECORD,
    RUNNING,
    SETTINGS,
    SINT8,
    SINT32,
    START,
    STOP,
    STRING,
    T0,
    UINT8,
    UINT16,
    UINT32,
    UNIX0,
    WORKOUT,
    Field,
    file_id,
    fit_file,
    message,
    record,
    ride,
    session,
    timer,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.ground.errors import DamagedRecordingError, NotAnActivityError, NoTimedTrackError, RecordingError
from steadyband.ground.units import FIT_EPOCH_UNIX_S
from steadyband.recording import read, to_rows


def test_epoch() -> None:
    # Published: FIT protocol, date_time counts from 1989-12-31T00:00:00Z = Unix 631065600 (SOURCES S9).
    assert datetime(1989, 12, 31, tzinfo=UTC).timestamp() == FIT_EPOCH_UNIX_S == 631065600
    assert read(ride()).sessions[0].time_s[0] == UNIX0


def test_checksum() -> None:
    # Published: CRC-16 by nibble table, "123456789" -> 0xBB3D (SOURCES S9); the function is the one that checks files.
    assert fitdecode.utils.compute_crc(b"123456789") == 0xBB3D


def test_semicircles() -> None:
    # Published: degrees = semicircles x 180 / 2^31 (SOURCES S9); by hand: 2^29 is 45 degrees, -2^30 is -90.
    data = fit_file(file_id(), record(T0, 100, 120, (0, SINT32, 2**29), (1, SINT32, -(2**30))))
    channels = read(data).sessions[0].channels
    assert channels["lat_deg"].tolist() == [45.0]
    assert channels["lon_deg"].tolist() == [-90.0]


def test_scales_of_the_record_fields() -> None:
    # Published: FIT profile, record: distance / 100 m, altitude / 5 - 500 m, speed / 1000 m/s, temperature in C.
    more = ((5, UINT32, 12345), (2, UINT16, 3000), (6, UINT16, 8250), (13, SINT8, -3), (4, UINT8, 88))
    channels = read(fit_file(file_id(), record(T0, 250, 140, *more))).sessions[0].channels
    expected = {"distance_m": 123.45, "altitude_m": 100.0, "speed_mps": 8.25, "temperature_c": -3, "cadence_rpm": 88}
    assert {name: values.tolist() for name, values in channels.items()} == {
        "power_w": [250],
        "heart_rate_bpm": [140],
        **{name: [value] for name, value in expected.items()},
    }


def test_enhanced_fields_are_preferred() -> None:
    # Published: FIT profile, record: enhanced_speed (73) / 1000 m/s, enhanced_altitude (78) / 5 - 500 m.
    for order in (slice(None), slice(None, None, -1)):
        more = ((6, UINT16, 8000), (73, UINT32, 9000), (2, UINT16, 3000), (78, UINT32, 3005))[order]
        channels = read(fit_file(file_id(), record(T0, 250, 140, *more))).sessions[0].channels
        assert channels["speed_mps"].tolist() == [9.0]
        assert channels["altitude_m"].tolist() == [101.0]


def test_invalid_values_are_missing() -> None:
    # Published: invalid values by base type (0xFF, 0xFFFF) mean "not known" (SOURCES S9).
    channels = read(fit_file(file_id(), record(T0, None, 120), record(T0 + 1, 180, None))).sessions[0].channels
    assert np.isnan(channels["power_w"]).tolist() == [True, False]
    assert np.isnan(channels["heart_rate_bpm"]).tolist() == [False, True]


def test_compressed_time_headers() -> None:
    # Published rule (SOURCES S9): off = h & 31, t = (prev & ~31) + off, + 32 if off < (prev & 31). By hand:
    # prev = 1,000,000,000 = 31,250,000 x 32 exactly, so prev & 31 = 0; off 5 -> +5; off 30 -> +30; off 2 -> +34.
    definition = struct.pack("<BBBHB", 0x41, 0, 0, RECORD, 1) + bytes([3, 1, UINT8])
    later = b"".join(bytes([0x80 | (1 << 5) | off, 130 + off]) for off in (5, 30, 2))
    recording = read(fit_file(file_id(), record(T0, 100, 120), definition, later))
    assert (recording.sessions[0].time_s - UNIX0).tolist() == [0, 5, 30, 34]
    assert recording.sessions[0].channels["heart_rate_bpm"].tolist() == [120, 135, 160, 132]


def test_records_are_put_in_order_and_counted() -> None:
    recording = read(fit_file(file_id(), record(T0 + 1, 11), record(T0, 10), record(T0 + 2, 12), record(None, 99)))
    (only,) = recording.sessions
    assert only.channels["power_w"].tolist() == [10, 11, 12]
    assert only.dropped == 1
    assert {note.code: note.count for note in recording.notes} == {"order": 1, "untimed": 1, "sport": 0}


def test_multisport_gives_one_session_a_sport() -> None:
    records = [record(T0 + i, 100 + i) for i in range(60)]
    data = fit_file(file_id(), *records, session(T0, 30, CYCLING), session(T0 + 30, 29, RUNNING))
    first, second = read(data).sessions
    assert (first.sport, second.sport) == ("cycling", "running")
    assert first.time_s[[0, -1]].tolist() == [UNIX0, UNIX0 + 29]
    assert second.time_s[[0, -1]].tolist() == [UNIX0 + 30, UNIX0 + 59]
    assert second.channels["power_w"][0] == 130


def test_session_without_records_is_left_out_and_said() -> None:
    data = fit_file(
        file_id(), *(record(T0 + i, 1) for i in range(9)), session(T0, 9, CYCLING), session(T0 + 50, 9, RUNNING)
    )
    recording = read(data)
    assert [s.sport for s in recording.sessions] == ["cycling"]
    assert "empty_session" in {note.code for note in recording.notes}


def test_cut_file_without_a_session_takes_the_sport_of_sport_or_lap() -> None:
    lap = message(LAP, (253, UINT32, T0 + 9), (2, UINT32, T0), (7, UINT32, 9000), (25, ENUM, RUNNING))
    sport = message(12, (0, ENUM, CYCLING), (1, ENUM, 7))
    records = [record(T0 + i, 1) for i in range(9)]
    assert read(fit_file(file_id(), sport, *records, lap)).sessions[0].sport == "cycling"
    assert read(fit_file(file_id(), sport, *records)).sessions[0].sub_sport == "road"
    assert read(fit_file(file_id(), *records, lap)).sessions[0].sport == "running"
    assert read(fit_file(file_id(), *records)).sessions[0].sport == "cycling"  # guessed, see below


def speeds(mps: float, *more: Field) -> list[bytes]:
    return [message(RECORD, (253, UINT32, T0 + i), (6, UINT16, round(1000 * mps)), *more) for i in range(9)]


@pytest.mark.parametrize(
    ("records", "sport"),
    [
        ([record(T0 + i, 180) for i in range(9)], "cycling"),  # power and no speed: a trainer
        (speeds(8.0, (4, UINT8, 85)), "cycling"),
        (speeds(3.0), "running"),
        (speeds(8.0), "unknown"),  # a ride, a car, skis
        (speeds(3.0, (7, UINT16, 250)), "unknown"),  # uphill by bike, or a run with a power meter
        (speeds(1.2), "unknown"),
        ([record(T0 + i, None, 130) for i in range(9)], "unknown"),
    ],
)
def test_a_file_that_names_no_sport_is_guessed_and_says_so(records: list[bytes], sport: str) -> None:
    recording = read(fit_file(file_id(), *records))
    (found,) = recording.sessions
    assert (found.sport, found.guessed) == (sport, True)
    told = [note.text for note in recording.notes if note.code == "sport"]
    assert len(told) == (sport != "unknown")
    assert all(sport in text and "--sport" in text for text in told)


def test_a_sport_that_the_file_names_is_no_guess() -> None:
    named = read(fit_file(file_id(), *speeds(3.0), session(T0, 8, CYCLING))).sessions[0]
    assert (named.sport, named.guessed) == ("cycling", False)


def test_lists_in_place_of_numbers_are_told() -> None:
    pair = struct.pack("<BBBHB", 0x40, 0, 0, RECORD, 3) + bytes([253, 4, UINT32, 7, 4, UINT16, 3, 1, UINT8])
    body = b"".join(b"\x00" + struct.pack("<IHHB", T0 + i, 200, 210, 130) for i in range(5))
    recording = read(fit_file(file_id(), pair + body, session(T0, 4, CYCLING)))
    assert "power_w" not in recording.sessions[0].channels
    assert [(note.code, note.count) for note in recording.notes] == [("list", 5)]


def test_speeds_that_differ_are_told_and_the_exact_one_is_used() -> None:
    both = [
        message(RECORD, (253, UINT32, T0 + i), (6, UINT16, 9000), (73, UINT32, 3000 if i < 4 else 9000))
        for i in range(9)
    ]
    recording = read(fit_file(file_id(), *both, session(T0, 8, RUNNING)))
    assert recording.sessions[0].channels["speed_mps"].tolist() == [3.0] * 4 + [9.0] * 5
    assert [(note.code, note.count) for note in recording.notes] == [("fields_differ", 4)]


def test_a_lap_of_which_most_was_never_recorded_is_kept() -> None:
    """The reference library gave 1 lap and we none: the device was paused for most of the only lap."""
    lap = message(LAP, (253, UINT32, T0 + 9000), (2, UINT32, T0 - 10), (7, UINT32, 9_010_000))
    records = [record(T0 + i, 200) for i in range(60)]
    other = [message(LAP, (253, UINT32, T0 + 400), (2, UINT32, T0 + 100), (7, UINT32, 300_000))]
    (found,) = read(fit_file(file_id(), *records, lap, *other, session(T0, 59, CYCLING))).sessions
    assert [(item.start_s - UNIX0, item.end_s - UNIX0) for item in found.laps] == [(-10, 9000)]


def test_chained_files_in_any_order_give_the_same_sessions() -> None:
    early = fit_file(file_id(), *[record(T0 + i, 200) for i in range(9)], session(T0, 8, CYCLING))
    later = fit_file(
        file_id(created=T0 + 9000), *[record(T0 + 9000 + i, 150) for i in range(9)], session(T0 + 9000, 8, RUNNING)
    )
    one, other = (read(data, "x").sessions for data in (early + later, later + early))
    assert [s.sport for s in one] == [s.sport for s in other] == ["cycling", "running"]
    for a, b in zip(one, other, strict=True):
        np.testing.assert_array_equal(a.time_s, b.time_s)
        np.testing.assert_array_equal(a.channels["power_w"], b.channels["power_w"])


def test_sessions_of_three_days_lose_nothing() -> None:
    days = [(T0 + 30 * 3600 * day, day) for day in range(3)]
    parts = [[record(start + i, 100 + day) for i in range(9)] for start, day in days]
    heads = [session(start, 8, CYCLING) for start, _ in days]
    recording = read(fit_file(file_id(), *[item for part in parts for item in part], *heads))
    found = [to_rows(each) for each in recording.sessions]
    assert [(rows.records, rows.dropped) for rows in found] == [(9, 0)] * 3


def test_records_after_the_last_session_of_a_cut_file_are_a_session_of_unknown_sport() -> None:
    records = [record(T0 + i, 1) for i in range(200)]
    whole = fit_file(file_id(), session(T0, 100, CYCLING), *records)
    assert [len(s.time_s) for s in read(whole).sessions] == [200]
    cut = read(whole[:-1])
    assert [(s.sport, len(s.time_s)) for s in cut.sessions] == [("cycling", 100), ("unknown", 100)]


def test_pauses_are_timer_stop_to_next_start() -> None:
    events = [timer(T0, START), timer(T0 + 10, STOP), timer(T0 + 12, STOP), timer(T0 + 20, START), timer(T0 + 29, STOP)]
    recording = read(fit_file(file_id(), *(record(T0 + i, 1) for i in range(30)), *events, session(T0, 29, CYCLING)))
    assert recording.sessions[0].pauses == ((UNIX0 + 10, UNIX0 + 20),)
    rows = to_rows(recording.sessions[0])
    assert np.flatnonzero(rows.pause).tolist() == list(range(11, 20))


def test_laps_workout_name_and_device() -> None:
    lap = message(LAP, (253, UINT32, T0 + 9), (2, UINT32, T0), (7, UINT32, 9000))
    workout = message(WORKOUT, (8, STRING, "Easy hour"))
    recording = read(fit_file(file_id(), workout, *(record(T0 + i, 1) for i in range(10)), lap))
    (only,) = recording.sessions
    assert only.name == "Easy hour"
    assert [(lap.start_s, lap.end_s) for lap in only.laps] == [(UNIX0, UNIX0 + 9)]
    assert recording.device == "development"  # published: FIT profile, manufacturer 255


def developer_ride(name: str, units: str, native: int | None, own: int | None) -> bytes:
    declared = message(
        DESCRIPTION,
        (0, UINT8, 0),
        (1, UINT8, 0),
        (2, UINT8, UINT16),
        (3, STRING, name),
        (8, STRING, units),
        (15, UINT8, native),
    )
    fields = ((253, UINT32, T0), (3, UINT8, 120), (7, UINT16, own))
    developed = message(RECORD, *fields, developer=[(0, 0, struct.pack("<H", 222))])
    return fit_file(file_id(), message(DEVELOPER_ID, (3, UINT8, 0)), declared, developed)


@pytest.mark.parametrize(
    ("name", "units", "native", "own", "expected"),
    [
        ("Power", "Watts", None, None, 222),
        ("Strap", "watts", 7, None, 222),
        ("Strap", "", 7, 0, 222),
        ("Power", "Watts", 7, 180, 180),
        ("Form Power", "Watts", None, None, None),
        ("Power", "kW", None, None, None),
    ],
)
def test_developer_power(name: str, units: str, native: int | None, own: int | None, expected: int | None) -> None:
    recording = read(developer_ride(name, units, native, own))
    values = recording.sessions[0].channels.get("power_w")
    assert (None if values is None else values.tolist()) == (None if expected is None else [expected])
    assert ("developer_field" in {note.code for note in recording.notes}) == (expected == 222)


def test_chained_settings_are_left_out() -> None:
    other = fit_file(file_id(SETTINGS), message(3, (4, UINT8, 40)))
    for data in (ride() + other, other + ride()):
        recording = read(data)
        assert len(recording.sessions) == 1
        assert recording.damage is None
        assert "device settings" in recording.notes[-1].text


@pytest.mark.parametrize(
    ("data", "error", "said"),
    [
        (fit_file(file_id(SETTINGS)), NotAnActivityError, "device settings"),
        (fit_file(file_id(COURSE), record(T0, 1)), NotAnActivityError, "a course"),
        (fit_file(file_id(9)), NotAnActivityError, "weight scale readings"),
        (fit_file(file_id()), NoTimedTrackError, "found no records"),
        (fit_file(file_id(), record(None, 1)), NoTimedTrackError, "none with a time"),
        (fit_file(file_id(), record(1000, None, 99)), NotAnActivityError, "heart-rate log"),
        (ride()[:40], DamagedRecordingError, "before the first usable record"),
        (b"\x0e" + bytes(7) + b".FIT", DamagedRecordingError, "before the first usable record"),
        (b"\xff" + ride()[1:], DamagedRecordingError, "before the first usable record"),
    ],
)
def test_refused_in_a_sentence(data: bytes, error: type[RecordingError], said: str) -> None:
    with pytest.raises(error, match=said) as caught:
        read(data, "x.fit")
    assert str(caught.value).startswith("x.fit: ")
    assert "\n" not in str(caught.value)


def test_recording_of_a_device_without_a_clock_is_read_and_said() -> None:
    # Published: FIT profile, date_time below 0x10000000 counts seconds since the device was switched on.
    recording = read(fit_file(file_id(created=1000), record(1000, 150, 99), record(1001, 150, 99)))
    assert recording.sessions[0].time_s.tolist() == [631066600, 631066601]
    assert [note.code for note in recording.notes] == ["sport", "undated"]


def test_wrong_checksum_is_used_and_said() -> None:
    data = bytearray(ride())
    data[-1] ^= 0x55
    recording = read(bytes(data))
    assert len(recording.sessions[0].time_s) == 30
    assert recording.damage is not None
    assert f"checksum at byte {len(data) - 2}" in recording.damage


def test_damage_in_the_middle_names_its_byte() -> None:
    # A data message of local type 9, never defined, is put before the 11th record.
    head, record_length = len(fit_file(file_id())) - 2, len(record(T0, 1))
    at = head + 10 * record_length
    data = fit_file(
        file_id(), *(record(T0 + i, 1) for i in range(10)), b"\x09", *(record(T0 + i, 1) for i in range(10, 20))
    )
    recording = read(data)
    assert len(recording.sessions[0].time_s) == 10
    assert recording.damage is not None
    assert f"byte {at} " in recording.damage


def test_file_that_was_never_closed() -> None:
    data = fit_file(file_id(), *(record(T0 + i, 200) for i in range(20)), size=0)
    recording = read(data[:-2])
    assert len(recording.sessions[0].time_s) == 20
    assert recording.damage is not None
    assert "never closed" in recording.damage


def test_a_record_of_1990_does_not_fill_the_memory() -> None:
    records = [record(5000, 1), *(record(T0 + i, 2) for i in range(9)), record(2**32 - 2, 3)]
    (only,) = read(fit_file(file_id(), *records, session(T0, 9, CYCLING))).sessions
    rows = to_rows(only)
    assert len(rows) == 9
    assert rows.start_s == UNIX0
    assert rows.dropped == 2


BASE = developer_ride("Power", "Watts", 7, 180) + ride(5)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_any_bytes_are_read_or_refused(data: st.DataObject) -> None:
    mutated = bytearray(BASE)
    for _ in range(data.draw(st.integers(1, 8))):
        at = data.draw(st.integers(0, len(mutated) - 1))
        kind = data.draw(st.sampled_from(["set", "cut", "insert", "delete"]))
        if kind == "set":
            mutated[at] = data.draw(st.integers(0, 255))
        elif kind == "insert":
            mutated[at:at] = data.draw(st.binary(min_size=1, max_size=5))
        elif kind == "delete":
            del mutated[at : at + data.draw(st.integers(1, 5))]
        elif at > 12:
            del mutated[at:]
    try:
        recording = read(bytes(mutated))
        for found in recording.sessions:
            assert np.all(np.diff(found.time_s) >= 0)
            to_rows(found)
    except RecordingError as error:
        assert "\n" not in error.message  # noqa: PT017


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_after_a_header_are_read_or_refused(tail: bytes) -> None:
    head = struct.pack("<BBHI4s", 12, 0x20, 2132, len(tail), b".FIT")
    with pytest.raises(RecordingError):
        read(head + tail)
