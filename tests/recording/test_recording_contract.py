"""One contract for every reader: what comes in, in which shape, and what comes out."""

from __future__ import annotations

import gzip
import hashlib
import io
import os
import pickle
from pathlib import Path

import fit_bytes
import gpx_text_samples
import numpy as np
import pytest

from steadyband.ground.errors import RecordingError, SteadybandError, UnknownFormatError
from steadyband.recording import CHANNELS, Recording, read, source
from steadyband.recording.registry import READERS

SAMPLES = {"fit": fit_bytes.ride(), "gpx": gpx_text_samples.ride()}
FORMATS = [reader.format for reader in READERS]

# Common practice, no source: the widest values a session of a person can hold.
PLAUSIBLE = {
    "power_w": (0, 2500),
    "heart_rate_bpm": (25, 230),
    "cadence_rpm": (0, 254),
    "speed_mps": (0, 40),
    "distance_m": (0, 1e6),
    "altitude_m": (-500, 9000),
    "lat_deg": (-90, 90),
    "lon_deg": (-180, 180),
    "temperature_c": (-50, 60),
}


def same(a: Recording, b: Recording) -> bool:
    pairs = zip(a.sessions, b.sessions, strict=True)
    return all(np.array_equal(x.time_s, y.time_s) and x.channels.keys() == y.channels.keys() for x, y in pairs)


def test_every_format_has_a_sample() -> None:
    assert set(SAMPLES) == set(FORMATS)


@pytest.mark.parametrize("kind", FORMATS)
def test_each_reader_knows_only_its_own(kind: str) -> None:
    assert [reader.format for reader in READERS if reader.sniff(SAMPLES[kind])] == [kind]


@pytest.mark.parametrize("kind", FORMATS)
def test_path_object_bytes_and_gzip_give_the_same(kind: str, tmp_path: Path) -> None:
    data = SAMPLES[kind]
    path = tmp_path / "no-suffix"
    path.write_bytes(data)
    packed = tmp_path / "packed.txt"
    packed.write_bytes(gzip.compress(data))
    plain = read(data, "ride")
    assert plain.format == kind
    assert plain.file == "ride"
    assert read(path).file == "no-suffix"
    for other in (path, str(path), io.BytesIO(data), packed, gzip.compress(data), bytearray(data)):
        assert same(plain, read(other))
    with path.open("rb") as stream:
        assert same(plain, read(stream))
    assert path.read_bytes() == data


@pytest.mark.parametrize("kind", FORMATS)
def test_result_is_in_order_and_plausible(kind: str) -> None:
    recording = read(SAMPLES[kind])
    (session,) = recording.sessions
    assert session.sport == "cycling"
    assert len(session.time_s) == 30
    assert np.all(np.diff(session.time_s) >= 0)
    assert set(session.channels) <= set(CHANNELS)
    for name, values in session.channels.items():
        low, high = PLAUSIBLE[name]
        assert values.shape == session.time_s.shape
        assert values.dtype == np.float64
        assert np.all((values >= low) & (values <= high))
    assert np.all(session.channels["power_w"] == 200)
    assert np.all(session.channels["heart_rate_bpm"] == 130)
    assert recording.damage is None


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("share", [0.002, 0.01, 0.02, 0.3, 0.5, 0.7, 0.9, 0.99])
def test_truncated_is_read_up_to_there_or_refused(kind: str, share: float) -> None:
    data = SAMPLES[kind][: int(len(SAMPLES[kind]) * share)]
    if share < 0.3:
        with pytest.raises(RecordingError, match=r"^cut: "):
            read(data, "cut")
        return
    recording = read(data, "cut")
    assert recording.damage is not None
    (session,) = recording.sessions
    assert 0 < len(session.time_s) <= 30


@pytest.mark.parametrize("kind", FORMATS)
def test_truncated_gzip_is_read_up_to_there(kind: str) -> None:
    noise = np.random.default_rng(1).integers(0, 256, 4000, dtype=np.uint8).tobytes()
    packed = gzip.compress(SAMPLES[kind] + noise)
    recording = read(packed[:-2000])
    assert recording.damage is not None
    assert "gzip" in recording.damage


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"PK\x03\x04rest", "zip archive"),
        (b"<!DOCTYPE html><html><body>Log in</body></html>", "web page"),
        (b"  <html>", "web page"),
        (b'{"message": "not found"}', "JSON"),
        (b"%PDF-1.7", "PDF"),
        (b'<?xml version="1.0"?><!-- <gpx> --><kml><x/></kml>', "<kml>"),
        (bytes(500), "zero bytes"),
        (b"\x0e\x10\x5e\x08 damaged header", "without a FIT header"),
    ],
)
def test_something_else_is_named(data: bytes, found: str) -> None:
    with pytest.raises(UnknownFormatError, match=r"expected a FIT or GPX recording") as error:
        read(data, "morning.fit")
    assert found in str(error.value)
    assert error.value.hint


def test_empty_missing_folder_and_text_are_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "empty.fit").touch()
    (tmp_path / "empty.gz").write_bytes(gzip.compress(b""))
    for bad, said in [
        (tmp_path / "empty.fit", "empty"),
        (tmp_path / "empty.gz", "empty"),
        (tmp_path / "nowhere.fit", "no such file"),
        (tmp_path, "folder"),
        ("a\x00b", "cannot be read"),
        (io.StringIO("<gpx/>"), "expected bytes"),
        (b"", "empty"),
    ]:
        with pytest.raises(RecordingError, match=said):
            read(bad)  # type: ignore[arg-type]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_forbidden_file_is_refused_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "mine.fit"
    path.write_bytes(SAMPLES["fit"])
    path.chmod(0)
    with pytest.raises(RecordingError, match="may not be read"):
        read(path)


def test_permission_error_becomes_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise PermissionError(13, "denied")

    monkeypatch.setattr(source, "open_regular", refuse)
    with pytest.raises(RecordingError, match="may not be read"):
        read(tmp_path / "mine.fit")


def test_unpacking_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "SIZE_MAX", 1 << 20)
    with pytest.raises(RecordingError, match="at most 1 MiB"):
        read(gzip.compress(bytes(3 << 20)))


def test_errors_carry_the_path_and_survive_pickling(tmp_path: Path) -> None:
    path = tmp_path / "page.gpx"
    path.write_bytes(b"<html></html>")
    with pytest.raises(UnknownFormatError) as error:
        read(path)
    assert error.value.file == str(path)
    again = pickle.loads(pickle.dumps(error.value))
    assert isinstance(again, SteadybandError)
    assert str(again) == str(error.value)


def test_checksum_is_of_the_file_as_given() -> None:
    packed = gzip.compress(SAMPLES["gpx"])
    assert read(packed).sha256 == hashlib.sha256(packed).hexdigest()
