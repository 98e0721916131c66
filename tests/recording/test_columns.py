"""The columnar FIT reader: hand-made files with values worked out by hand, and real device files against fitdecode."""

from __future__ import annotations

import struct
import warnings
from pathlib import Path

import numpy as np
import pytest
from columns_oracle import by_columns, by_fitdecode, text_of
from fit_bytes import fit_file, message
from fitdecode.utils import compute_crc

from conftest import recording_files
from steadyband.recording.fit.columns import read_columns
from steadyband.recording.fit.parts import Message, Records, messages_of, records_of
from steadyband.recording.fit.table import Table
from steadyband.recording.not_covered import NotCovered

RECORD, SESSION, EVENT, LAP, HEART_RATE, FILE_ID = 20, 18, 21, 19, 132, 0
TIME, POWER, HEART, ALTITUDE, SPEED, DISTANCE = 253, 7, 3, 2, 6, 5
UINT8, UINT16, UINT32, SINT32, TEXT, BYTES, FLOAT32 = 0x02, 0x84, 0x86, 0x85, 0x07, 0x0D, 0x88


def definition(
    num: int, *fields: tuple[int, int, int], local: int = 0, big: bool = False, developer: bytes = b""
) -> bytes:
    """A definition message of (field number, size, base type); `developer` are (number, size, index) triples as bytes."""
    head = struct.pack(
        ">BBBHB" if big else "<BBBHB", 0x40 | (0x20 if developer else 0) | local, 0, big, num, len(fields)
    )
    body = b"".join(bytes(entry) for entry in fields)
    return head + body + (bytes([len(developer) // 3]) + developer if developer else b"")


def same_as_fitdecode(data: bytes) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        expected = by_fitdecode(data)
    assert text_of(by_columns(data)) == text_of(expected)


def table(data: bytes, name: str = "record") -> Table:
    return read_columns(data).files[0].tables[name]


@pytest.mark.parametrize(
    "path",
    [*recording_files("fit"), *recording_files("fit_damaged"), *recording_files("fit_other")],
    ids=lambda p: p.name,
)
def test_real_files_as_fitdecode_reads_them(path: Path) -> None:
    """Reference library fitdecode 0.11, every value of every needed message to the last bit; see columns_oracle."""
    same_as_fitdecode(path.read_bytes())


@pytest.mark.parametrize("big", [False, True])
def test_scale_offset_and_missing_values_in_both_byte_orders(big: bool) -> None:
    # By hand: altitude is stored as 5 (h + 500), so 2755 is 2755 / 5 - 500 = 51 m; speed in mm/s; 0xFF, 0xFFFF none.
    end = ">" if big else "<"
    fields = ((TIME, 4, UINT32), (ALTITUDE, 2, UINT16), (SPEED, 2, UINT16), (HEART, 1, UINT8))
    rows = struct.pack(end + "BIHHB", 0, 1000, 2755, 3456, 131) + struct.pack(end + "BIHHB", 0, 1001, 0xFFFF, 0, 0xFF)
    data = fit_file(definition(RECORD, *fields, big=big), rows)
    records = table(data)
    assert records.numbers("timestamp").tolist() == [1000.0, 1001.0]
    np.testing.assert_array_equal(records.numbers("altitude"), [51.0, np.nan])
    np.testing.assert_array_equal(records.numbers("enhanced_altitude"), [51.0, np.nan])
    np.testing.assert_array_equal(records.numbers("speed"), [3.456, 0.0])
    np.testing.assert_array_equal(records.numbers("heart_rate"), [131.0, np.nan])
    same_as_fitdecode(data)


def test_compressed_times_count_on_and_roll_over() -> None:
    # By hand with SOURCES S9: from 1000 (low bits 8), offset 10 is 992 + 10 = 1002; then 9 < 10, so 992 + 9 + 32 = 1033;
    # 9 again stays; a lap written at 2000 (low bits 16) moves the clock, and offset 15 < 16 gives 1984 + 15 + 32 = 2031.
    data = fit_file(
        definition(RECORD, (TIME, 4, UINT32), (HEART, 1, UINT8), local=0),
        struct.pack("<BIB", 0, 1000, 120),
        definition(RECORD, (HEART, 1, UINT8), local=1),
        bytes([0x80 | 1 << 5 | 10, 121, 0x80 | 1 << 5 | 9, 122, 0x80 | 1 << 5 | 9, 123]),
        definition(LAP, (TIME, 4, UINT32), local=2),
        struct.pack("<BI", 2, 2000),
        bytes([0x80 | 1 << 5 | 15, 124]),
    )
    assert table(data).numbers("timestamp").tolist() == [1000.0, 1002.0, 1033.0, 1033.0, 2031.0]
    assert table(data).numbers("heart_rate").tolist() == [120.0, 121.0, 122.0, 123.0, 124.0]
    same_as_fitdecode(data)


def test_speed_and_distance_packed_in_three_bytes() -> None:
    # By hand: 12 bits speed in cm/s, then 12 bits distance in 1/16 m, lowest first, adding up: 300 -> 3 m/s, 32 -> 2 m,
    # then 16 < 32, so 4096 + 16 = 4112 -> 257 m. A definition begins the sum anew: 16 -> 1 m. 0xFFFFFF is none.
    def packed(speed: int, distance: int) -> bytes:
        return (speed | distance << 12).to_bytes(3, "little")

    defined = definition(RECORD, (8, 3, BYTES))
    first = b"\x00" + packed(300, 32) + b"\x00" + b"\xff\xff\xff" + b"\x00" + packed(301, 16)
    data = fit_file(defined, first, defined, b"\x00" + packed(0, 16))
    np.testing.assert_array_equal(table(data).numbers("speed"), [3.0, np.nan, 3.01, 0.0])
    np.testing.assert_array_equal(table(data).numbers("distance"), [2.0, np.nan, 257.0, 1.0])
    same_as_fitdecode(data)


def test_sums_go_on_over_all_shapes_and_begin_anew_with_any_definition_that_adds() -> None:
    # By hand: 32 -> 2 m; a definition without the field changes nothing, 48 -> 3 m; one of another shape with it sets the
    # sum to 0, so 16 -> 1 m in the first shape, and 8 < 16 in the other gives 4096 + 8 = 4104 -> 256.5 m.
    def packed(distance: int) -> bytes:
        return (distance << 12).to_bytes(3, "little")

    data = fit_file(
        definition(RECORD, (8, 3, BYTES)),
        b"\x00" + packed(32),
        definition(RECORD, (HEART, 1, UINT8), local=1),
        b"\x00" + packed(48),
        definition(RECORD, (8, 3, BYTES), (HEART, 1, UINT8), local=1),
        b"\x00" + packed(16) + b"\x01" + packed(8) + b"\x64",
    )
    assert table(data).numbers("distance").tolist() == [2.0, 3.0, 1.0, 256.5]
    same_as_fitdecode(data)


def test_of_two_expanded_fields_the_first_with_a_value_stays() -> None:
    # By hand: the speeds 1.000 and 2.000 m/s both give an enhanced_speed; of the file's own speeds the last counts.
    rows = [(1000, 2000), (0xFFFF, 2000), (1000, 0xFFFF)]
    data = fit_file(
        definition(RECORD, (SPEED, 2, UINT16), (SPEED, 2, UINT16)), *(struct.pack("<BHH", 0, *row) for row in rows)
    )
    assert table(data).numbers("enhanced_speed").tolist() == [1.0, 2.0, 1.0]
    assert table(data).numbers("speed").tolist() == [2.0, 2.0, 1.0]
    same_as_fitdecode(data)


def test_a_field_of_the_file_wins_over_an_expanded_one_and_the_last_with_a_value() -> None:
    # By hand: `speed` also gives enhanced_speed (1.000), the file's own enhanced_speed (2.000) wins where it has a value.
    fields = ((SPEED, 2, UINT16), (73, 4, UINT32), (73, 4, UINT32))
    rows = [(1000, 2000, 3000), (1000, 2000, 0xFFFFFFFF), (1000, 0xFFFFFFFF, 0xFFFFFFFF)]
    data = fit_file(definition(RECORD, *fields), *(struct.pack("<BHII", 0, *row) for row in rows))
    assert table(data).numbers("enhanced_speed").tolist() == [3.0, 2.0, 1.0]
    same_as_fitdecode(data)


def test_subfields_names_and_texts() -> None:
    # By hand with the FIT profile as fitdecode has it: event 0 timer, type 4 stop_all, data of a timer event is its trigger.
    event = definition(EVENT, (TIME, 4, UINT32), (0, 1, 0), (1, 1, 0), (3, 4, UINT32))
    data = fit_file(
        event,
        struct.pack("<BIBBI", 0, 1000, 0, 4, 1),
        struct.pack("<BIBBI", 0, 1001, 11, 3, 3700),
        definition(26, (8, 9, TEXT), local=1),
        b"\x01" + "Easy é\0z".encode()[:9],
    )
    events = table(data, "event")
    assert events.values("event") == ["timer", "battery"]
    assert events.values("event_type") == ["stop_all", "marker"]
    assert events.values("timer_trigger") == ["auto", None]
    assert events.values("battery_level") == [None, 3.7]
    assert table(data, "workout").values("wkt_name") == ["Easy é"]
    same_as_fitdecode(data)


def test_definitions_that_change_kinds_that_alternate_and_unknown_messages() -> None:
    # By hand: power 200, 201, ... in file order, whatever shape or local type it is written in.
    wide = definition(RECORD, (TIME, 4, UINT32), (POWER, 2, UINT16))
    slim = definition(RECORD, (POWER, 2, UINT16))
    other = definition(65280, (0, 5, BYTES), local=3)
    body = [wide, other]
    body += [struct.pack("<BIH", 0, 1000 + i, 200 + i) + b"\x03" + bytes(5) for i in range(20)]
    body += [slim, *(struct.pack("<BH", 0, 220 + i) for i in range(100))]
    body += [wide, *(struct.pack("<BIH", 0, 1120 + i, 320 + i) for i in range(5))]
    data = fit_file(*body)
    assert table(data).numbers("power").tolist() == [float(200 + i) for i in range(125)]
    assert read_columns(data).files[0].counts == {"record": 125, "unknown_65280": 20}
    same_as_fitdecode(data)


def developer_file(described: bool) -> bytes:
    declared = message(207, (3, UINT8, 0)) if described else b""
    description = message(206, (0, UINT8, 0), (1, UINT8, 4), (2, UINT8, UINT16), (3, TEXT, "Power"), (8, TEXT, "w"))
    record = definition(RECORD, (TIME, 4, UINT32), developer=bytes([4, 2, 0]))
    rows = [struct.pack("<BIH", 0, 1000 + i, 250 + i) for i in range(3)]
    return fit_file(declared, description if described else b"", record, *rows)


def test_developer_fields_with_and_without_their_descriptions() -> None:
    # By hand: 250, 251, 252 W. Without a description fitdecode gives the bytes, under no name: 250 = 0xFA.
    with_it = records_of(read_columns(developer_file(True)).files[0], ("timestamp",), lambda e: e.name, ("Power",))
    assert with_it.column("Power").tolist() == [250.0, 251.0, 252.0]
    assert table(developer_file(False)).values("power") == [None] * 3
    for described in (True, False):
        same_as_fitdecode(developer_file(described))


def test_a_developer_who_declares_again_begins_without_fields() -> None:
    # By hand: after a second developer_data_id the description no longer holds, so the value is bytes without a name.
    declared = message(207, (3, UINT8, 0))
    description = message(206, (0, UINT8, 0), (1, UINT8, 4), (2, UINT8, UINT16), (3, TEXT, "Power"))
    record = definition(RECORD, developer=bytes([4, 2, 0])) + struct.pack("<BH", 0, 250)
    data = fit_file(declared, description, record, declared, record, description, record)
    assert table(data).values("Power") == [250, None, 250]
    same_as_fitdecode(data)


def test_a_description_of_an_undeclared_developer_ends_the_reading() -> None:
    description = message(206, (0, UINT8, 3), (1, UINT8, 4), (2, UINT8, UINT16))
    data = fit_file(message(RECORD, (HEART, UINT8, 100)), description, message(RECORD, (HEART, UINT8, 101)))
    columns = read_columns(data)
    assert columns.files[0].tables["record"].numbers("heart_rate").tolist() == [100.0]
    assert "developer_data_index 3 not defined" in str(columns.ending)
    same_as_fitdecode(data)


def test_stored_heart_beats_are_counted_where_they_have_a_date() -> None:
    # By the FIT profile as fitdecode has it: hr messages, 9 event_timestamp, 10 event_timestamp_12.
    dated = definition(HEART_RATE, (TIME, 4, UINT32), (9, 4, UINT32), local=0) + struct.pack("<BII", 0, 1000, 2048)
    beats = definition(HEART_RATE, (10, 12, BYTES), local=1) + b"\x01" + bytes(range(12))
    assert read_columns(fit_file(dated, beats)).files[0].counts == {"hr": 2}
    same_as_fitdecode(fit_file(dated, beats))
    undated = definition(HEART_RATE, (TIME, 4, UINT32), (9, 4, UINT32)) + struct.pack("<BII", 0, 0xFFFFFFFF, 2048)
    nothing = definition(HEART_RATE, (10, 12, BYTES), local=1) + b"\x01" + b"\xff" * 12
    for wrong in (fit_file(beats, dated), fit_file(undated, beats), fit_file(dated, nothing)):
        with pytest.raises(NotCovered, match="stored heart beats"):
            read_columns(wrong)


def test_sizes_that_fit_no_base_type_and_arrays() -> None:
    # By hand: a "uint16" of 3 bytes is three bytes; a uint16 of 4 bytes two numbers, each scaled.
    data = fit_file(
        definition(RECORD, (POWER, 3, UINT16), (52, 4, UINT16), (HEART, 1, UINT8)),
        b"\x00" + bytes([1, 2, 3]) + struct.pack("<HH", 256, 0xFFFF) + bytes([99]),
    )
    assert table(data).values("power") == [(1, 2, 3)]
    assert table(data).values("cadence256") == [(1.0, None)]
    assert np.isnan(table(data).numbers("power")).all()
    assert table(data).numbers("heart_rate").tolist() == [99.0]
    same_as_fitdecode(data)


def test_chained_files_and_wrong_checksums_are_read_and_told() -> None:
    one = fit_file(definition(RECORD, (HEART, 1, UINT8)), b"\x00\x64")
    wrong = one[:-1] + bytes([one[-1] ^ 1])
    columns = read_columns(one + wrong + one)
    assert [file.footer_fits for file in columns.files] == [True, False, True]
    assert [file.tables["record"].numbers("heart_rate").tolist() for file in columns.files] == [[100.0]] * 3
    same_as_fitdecode(one + wrong + one)


def test_header_checksums() -> None:
    body = definition(RECORD, (HEART, 1, UINT8)) + b"\x00\x64"
    head = struct.pack("<BBHI4s", 14, 0x20, 2132, len(body), b".FIT")
    for stored, fits in ((compute_crc(head), True), (0, None), (compute_crc(head) ^ 1, False)):
        whole = head + struct.pack("<H", stored) + body
        data = whole + struct.pack("<H", compute_crc(whole))
        assert read_columns(data).files[0].header_fits is fits
        same_as_fitdecode(data)


def test_cut_anywhere_gives_everything_before() -> None:
    data = developer_file(True) + fit_file(definition(SESSION, (5, 1, 0)), b"\x00\x02")
    for size in range(len(data)):
        same_as_fitdecode(data[:size])


@pytest.mark.parametrize("path", [p for p in recording_files("fit") if p.stat().st_size < 6000], ids=lambda p: p.name)
def test_real_files_cut_anywhere(path: Path) -> None:
    data = path.read_bytes()
    for size in range(0, len(data), 97):
        same_as_fitdecode(data[:size])


def test_what_is_not_covered_says_why() -> None:
    nothing = fit_file(definition(RECORD, (POWER, 0, UINT16)), b"\x00")
    with pytest.raises(NotCovered, match="a field of no length in record"):
        read_columns(nothing)
    beats = fit_file(definition(HEART_RATE, (10, 12, BYTES)), b"\x00" + bytes(12))
    with pytest.raises(NotCovered, match="stored heart beats"):
        read_columns(beats)
    decimal = fit_file(definition(RECORD, (SPEED, 4, FLOAT32)), b"\x00" + struct.pack("<f", 3.5))
    with pytest.raises(NotCovered, match="components of"):
        read_columns(decimal)


def test_messages_are_tables_of_what_has_a_value() -> None:
    data = fit_file(message(SESSION, (5, 0, 2), (2, UINT32, 1000), (7, UINT32, None)))
    (session,) = messages_of(read_columns(data).files[0], "session")
    assert isinstance(session, Message)
    assert dict(session) == {"sport": "cycling", "start_time": 1000}
    assert session.get("total_elapsed_time") is None
    assert not messages_of(read_columns(data).files[0], "lap")


def test_records_from_rows_and_from_columns_are_alike() -> None:
    rows = [{"timestamp": 5.0}, {"timestamp": 6.0, "power": 200.0}]
    records = Records.of_rows(rows)
    assert len(records) == 2
    np.testing.assert_array_equal(records.column("power"), [np.nan, 200.0])
    assert records.taken(np.array([1])).column("power").tolist() == [200.0]
    assert np.isnan(records.column("cadence")).all()
    assert len(records.taken(slice(0, 1))) == 1


@pytest.mark.parametrize("pattern", ["000080ff", "0100807f", "ffff7f7f", "000000ff", "ffffff7f"])
def test_odd_decimal_numbers_warn_nobody(pattern: str) -> None:
    """Signalling NaN, the largest number and the like where a scaled whole number or a name is due."""
    raw = bytes.fromhex(pattern)
    widest = struct.pack("<d", 1.7e308)
    data = fit_file(
        definition(RECORD, (69, 4, FLOAT32), (42, 4, FLOAT32), (70, 8, 0x89), (TIME, 4, FLOAT32)),
        b"\x00" + raw + raw + widest + raw,
    )
    same_as_fitdecode(data)
    table(data).numbers("timestamp")
