"""Record columns of every FIT activity at hand against independent decoders.

Reference libraries: garmin-fit-sdk 21.218.0, Decoder.read(convert_datetimes_to_dates=False, merge_heart_rates=False),
and fit-tool 0.9.16, FitFile.from_bytes, for the one file whose compressed time headers the former refuses
("Compressed timestamp messages are not currently supported").

Disagreements looked at one by one, all legitimate:
- order: the reader sorts by time (stable), the decoders keep the file's order; the reference is sorted the same way;
- a channel that comes from a developer field (the rowing file) has no native field: compared with the reference's
  developer field of that name;
- fit-tool keeps expanded distances as whole centimetres and times as milliseconds: tolerance half a centimetre.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from garmin_fit_sdk import Decoder, Stream

from conftest import DEMO, recording_files
from steadyband.recording import CHANNELS, Recording, read

FIELDS: dict[str, tuple[tuple[str, ...], float]] = {
    "power_w": (("power",), 1.0),
    "heart_rate_bpm": (("heart_rate",), 1.0),
    "cadence_rpm": (("cadence",), 1.0),
    "speed_mps": (("enhanced_speed", "speed"), 1.0),
    "distance_m": (("distance",), 1.0),
    "altitude_m": (("enhanced_altitude", "altitude"), 1.0),
    "lat_deg": (("position_lat",), 180.0 / 2**31),
    "lon_deg": (("position_long",), 180.0 / 2**31),
    "temperature_c": (("temperature",), 1.0),
}
UNIX_OF_FIT = 631065600  # published: FIT protocol (SOURCES S9)
COMPRESSED = "run_compressed_headers_1h05.fit"
DEVELOPED = {"rowing_indoor_hr_0h28.fit": {"power_w": "Power", "speed_mps": "Speed"}}


def files() -> list[Path]:
    return [path for path in recording_files("fit") if path.name != COMPRESSED] + sorted(DEMO.rglob("*.fit"))


def decoded(path: Path) -> dict[str, list[dict[str, Any]]]:
    stream = Stream.from_byte_array(bytearray(path.read_bytes()))
    messages, _ = Decoder(stream).read(convert_datetimes_to_dates=False, merge_heart_rates=False)
    return messages


def column(records: Sequence[dict[str, Any]], names: Sequence[str]) -> np.ndarray:
    values = [next((r[name] for name in names if r.get(name) is not None), np.nan) for r in records]
    return np.array(values, dtype=np.float64)


def ours(recording: Recording, channel: str) -> np.ndarray:
    missing = [np.full(len(session.time_s), np.nan) for session in recording.sessions]
    pairs = zip(recording.sessions, missing, strict=True)
    return np.concatenate([session.channels.get(channel, empty) for session, empty in pairs])


@pytest.mark.parametrize("path", files(), ids=lambda path: path.name)
def test_columns_equal_the_second_decoder(path: Path) -> None:
    recording, messages = read(path), decoded(path)
    records = [r for r in messages["record_mesgs"] if r.get("timestamp") is not None]
    time_s = column(records, ["timestamp"]) + UNIX_OF_FIT
    order = np.argsort(time_s, kind="stable")
    assert np.array_equal(np.concatenate([s.time_s for s in recording.sessions]), time_s[order])
    compared = set()
    for channel, (names, factor) in FIELDS.items():
        if channel in DEVELOPED.get(path.name, {}):
            continue
        expected = column(records, names)[order] * factor
        assert np.array_equal(ours(recording, channel), expected, equal_nan=True), channel
        compared.add(channel) if np.isfinite(expected).any() else None
    assert compared
    assert set(FIELDS) == set(CHANNELS)


@pytest.mark.parametrize("path", [p for p in files() if p.name in DEVELOPED], ids=lambda path: path.name)
def test_developer_columns_equal_the_second_decoder(path: Path) -> None:
    recording, messages = read(path), decoded(path)
    # The native record message is number 20; the same field names are described for laps and sessions as well.
    described = {
        d["field_name"]: d["key"]
        for d in messages["field_description_mesgs"]
        if d.get("native_mesg_num") in (20, "record")
    }
    for channel, name in DEVELOPED[path.name].items():
        expected = [r["developer_fields"].get(described[name], np.nan) for r in messages["record_mesgs"]]
        assert np.array_equal(ours(recording, channel), np.array(expected, dtype=np.float64), equal_nan=True)
        assert np.isfinite(expected).any()


def test_compressed_headers_equal_another_decoder() -> None:
    path = next((p for p in recording_files("fit") if p.name == COMPRESSED), None)
    if path is None:
        pytest.skip("no folder of real recordings (../shared/recordings or STEADYBAND_RECORDINGS)")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from fit_tool.fit_file import FitFile
        from fit_tool.profile.messages.record_message import RecordMessage

        messages = [r.message for r in FitFile.from_bytes(path.read_bytes()).records]
    records = [m for m in messages if isinstance(m, RecordMessage)]
    (session,) = read(path).sessions
    assert session.time_s.tolist() == [m.timestamp / 1000 for m in records]
    for channel, field, tolerance in [
        ("heart_rate_bpm", "heart_rate", 0),
        ("speed_mps", "speed", 0),
        ("distance_m", "distance", 0.005),
    ]:
        expected = np.array([np.nan if getattr(m, field) is None else getattr(m, field) for m in records])
        assert np.isfinite(expected).sum() > 700
        np.testing.assert_allclose(session.channels[channel], expected, rtol=0, atol=tolerance + 1e-9)
