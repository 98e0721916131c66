"""Zip archives: read in memory, member by member; bombs, locked and damaged ones cost a sentence."""

from __future__ import annotations

import gzip
import io
import os
import random
import struct
import subprocess
import zipfile
import zlib
from pathlib import Path

import pytest
from fit_bytes import ride

from steadyband.ground.errors import RecordingError
from steadyband.recording import archives
from steadyband.recording.archives import Source, contents, list_sources

Members = dict[str, bytes]


def packed(members: Members) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return made.getvalue()


def write(path: Path, members: Members) -> Path:
    path.write_bytes(packed(members))
    return path


def names(path: Path) -> list[str]:
    return [source.name for source in list_sources(path).sources]


def only(sources: list[Source]) -> bytes | RecordingError:
    ((_, data),) = contents(sources)
    return data


def test_a_plain_file_is_its_own_source(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    path.write_bytes(ride())
    assert list_sources(path).sources == (Source(path),)
    assert Source(path).name == "ride.fit"
    assert only([Source(path)]) == ride()


def test_members_are_named_and_read_without_touching_the_disk(tmp_path: Path) -> None:
    inner = packed({"deep/b.fit": ride(40)})
    path = write(
        tmp_path / "all.zip", {"2026/a.fit": ride(30), "c.fit.gz": gzip.compress(ride(20)), "inner.zip": inner}
    )
    assert names(path) == ["all.zip/2026/a.fit", "all.zip/c.fit.gz", "all.zip/inner.zip/deep/b.fit"]
    found = dict(contents(list_sources(path).sources))
    assert list(found.values()) == [ride(30), gzip.compress(ride(20)), ride(40)]
    assert list(tmp_path.iterdir()) == [path]


def test_folders_and_hidden_members_are_passed_over(tmp_path: Path) -> None:
    path = write(tmp_path / "a.zip", {"sub/": b"", "__MACOSX/._a.fit": b"x", ".git/b": b"x", "a.fit": ride()})
    assert names(path) == ["a.zip/a.fit"]


@pytest.mark.parametrize("name", ["../../evil.fit", "/etc/evil.fit", "C:\\evil.fit", "a/../../../evil.fit"])
def test_names_never_become_paths(tmp_path: Path, name: str) -> None:
    path = write(tmp_path / "sub.zip", {name: ride()})
    before = sorted(tmp_path.iterdir())
    for _, data in contents(list_sources(path).sources):
        assert data == ride()
    assert sorted(tmp_path.iterdir()) == before


def test_names_cannot_command_the_terminal(tmp_path: Path) -> None:
    path = write(tmp_path / "a.zip", {"\x1b[2Jride\n.fit": ride()})
    (source,) = list_sources(path).sources
    assert source.name.isprintable()
    assert only([source]) == ride()


def test_archives_three_deep_are_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.zip", {"b.zip": packed({"c.zip": packed({"d.fit": ride()}), "e.fit": ride()})})
    listing = list_sources(path)
    assert names(path) == ["a.zip/b.zip/e.fit"]
    ((source, fault),) = listing.refused
    assert source.name == "a.zip/b.zip/c.zip"
    assert "three deep" in str(fault)


def test_a_bomb_is_refused_unread(tmp_path: Path) -> None:
    """Deflate packs zeros about 1,000 times (RFC 1951: at most 258 bytes for 2 bits)."""
    path = write(tmp_path / "bomb.zip", {"zeros.fit": bytes(40 * 2**20), "a.fit": ride()})
    listing = list_sources(path)
    assert names(path) == ["bomb.zip/a.fit"]
    ((_, fault),) = listing.refused
    assert "times its packed size" in str(fault)
    data = only([Source(path, ("zeros.fit",))])
    assert isinstance(data, RecordingError)


def test_a_bomb_that_lies_about_its_size_gives_no_more_than_it_says(tmp_path: Path) -> None:
    whole = bytearray(packed({"a.fit": bytes(30 * 2**20)}))
    said = struct.pack("<I", 30 * 2**20)
    whole = bytearray(bytes(whole).replace(said, struct.pack("<I", 1000)))
    path = tmp_path / "liar.zip"
    path.write_bytes(whole)
    data = only([Source(path, ("a.fit",))])
    assert isinstance(data, RecordingError)
    assert "damaged" in str(data)


def test_too_many_members_and_too_many_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path / "a.zip", {f"{n}.fit": ride() for n in range(5)})
    nested = write(tmp_path / "b.zip", {f"{n}.zip": path.read_bytes() for n in range(3)})
    monkeypatch.setattr(archives, "MEMBERS_MAX", 12)
    assert len(list_sources(path).sources) == 5
    ((_, fault),) = list_sources(nested).refused
    assert "at most 12 members" in str(fault)
    monkeypatch.setattr(archives, "MEMBERS_MAX", 100)
    monkeypatch.setattr(archives, "TOTAL_MAX", 1000)
    ((_, fault),) = list_sources(path).refused
    assert "GiB" in str(fault)


def test_a_locked_member_is_said_to_be_locked(tmp_path: Path) -> None:
    data = bytearray(packed({"a.fit": ride()}))
    for sign in (b"PK\x03\x04", b"PK\x01\x02"):
        at = data.index(sign) + (6 if sign == b"PK\x03\x04" else 8)
        data[at] |= 1  # the encryption bit of the general-purpose flags (APPNOTE.TXT 4.4.4, from memory)
    path = tmp_path / "locked.zip"
    path.write_bytes(data)
    found = only([Source(path, ("a.fit",))])
    assert isinstance(found, RecordingError)
    assert "password" in str(found)


def test_a_member_that_is_gone(tmp_path: Path) -> None:
    path = write(tmp_path / "a.zip", {"a.fit": ride()})
    found = only([Source(path, ("b.fit",))])
    assert isinstance(found, RecordingError)
    missing = only([Source(tmp_path / "none.zip", ("b.fit",))])
    assert isinstance(missing, RecordingError)


def test_no_damage_raises_anything_but_our_own(tmp_path: Path) -> None:
    rng = random.Random(4)
    whole = packed({"a.fit": ride(40), "b/c.gpx": b"<gpx>" * 50, "d.zip": packed({"e.fit": ride(20)})})
    path = tmp_path / "a.zip"
    for _ in range(1500):
        data = bytearray(whole)
        for _ in range(rng.randint(1, 6)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        path.write_bytes(bytes(data[: rng.randint(4, len(data))]) if rng.random() < 0.3 else data)
        for _, found in contents(list_sources(path).sources):
            assert isinstance(found, (bytes, RecordingError))


def test_another_packer_is_read(tmp_path: Path) -> None:
    """Against Info-ZIP, where it is installed."""
    (tmp_path / "a.fit").write_bytes(ride(50))
    try:
        subprocess.run(["zip", "-q", "a.zip", "a.fit"], cwd=tmp_path, check=True)
    except FileNotFoundError:
        pytest.skip("the program zip (Info-ZIP) is not installed")
    assert only(list(list_sources(tmp_path / "a.zip").sources)) == ride(50)


def by_fours(sources: tuple[Source, ...]) -> list[bytes | RecordingError]:
    pieces = [sources[at : at + 4] for at in range(0, len(sources), 4)]
    return [data for piece in pieces for _, data in contents(piece)]


def test_the_list_of_members_is_read_once_however_few_are_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Workers take four recordings at a time: a list read for each four costs quadratic time."""
    wanted = {f"{number:03}.fit": ride(10 + number) for number in range(40)}
    inner = {f"{number:03}.zip": packed({"a.fit": data}) for number, data in enumerate(wanted.values())}
    opened: list[object] = []
    real = zipfile.ZipFile
    for members, lists in ((wanted, 1), (inner, 1 + len(inner))):
        path = write(tmp_path / "all.zip", members)
        sources = list_sources(path).sources
        opened.clear()
        with monkeypatch.context() as patched:
            patched.setattr(archives.zipfile, "ZipFile", lambda file: opened.append(file) or real(file))
            assert by_fours(sources) == list(wanted.values())
        assert len(opened) == lists


def test_an_archive_that_changes_is_listed_anew(tmp_path: Path) -> None:
    path = write(tmp_path / "all.zip", {"a.fit": ride(30)})
    assert only([Source(path, ("a.fit",))]) == ride(30)
    (tmp_path / "new.zip").write_bytes(packed({"a.fit": ride(31)}))
    (tmp_path / "new.zip").replace(path)
    assert only([Source(path, ("a.fit",))]) == ride(31)
    path.unlink()
    assert isinstance(only([Source(path, ("a.fit",))]), RecordingError)


def test_no_archive_stays_open(tmp_path: Path) -> None:
    path = write(tmp_path / "all.zip", {"a.fit": ride(30), "b.fit": ride(31)})
    half = contents([Source(path, ("a.fit",)), Source(path, ("b.fit",))])
    next(half)
    half.close()
    held = {os.path.realpath(f"/proc/self/fd/{number}") for number in range(256)}
    assert str(path) not in held


@pytest.mark.parametrize("members", [1, 3000])
def test_gzip_members_cost_what_they_hold(members: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a member leaves over is copied: counted here, it grows with the file and not with its square."""
    from steadyband.recording import source

    copied = [0]
    real = zlib.decompressobj

    class Counted:
        def __init__(self, wbits: int) -> None:
            self._real = real(wbits=wbits)

        def decompress(self, data: bytes, most: int) -> bytes:
            found = self._real.decompress(data, most)
            copied[0] += len(data) + len(self._real.unused_data) + len(self._real.unconsumed_tail)
            return found

        def __getattr__(self, name: str) -> object:
            return getattr(self._real, name)

    monkeypatch.setattr(source.zlib, "decompressobj", Counted)
    data = gzip.compress(b"", mtime=0) * members + gzip.compress(ride(40), mtime=0)
    assert source.load(data, "x.fit.gz").data == ride(40)
    assert copied[0] < 30 * len(data)


@pytest.mark.parametrize("size", [1, 255, 256, 257, 70_000, 3_000_000])
def test_gzip_of_any_size_is_unpacked_whole(size: int) -> None:
    data = random.Random(size).randbytes(size // 2) + b"a" * (size - size // 2)
    packed_twice = gzip.compress(data, mtime=0) + gzip.compress(data[::-1], mtime=0)
    from steadyband.recording.source import load

    assert load(packed_twice, "x.gz").data == data + data[::-1]
    assert load(packed_twice + b"rubbish", "x.gz").data == data + data[::-1]
    cut = load(packed_twice[:-9], "x.gz")
    assert cut.damage == "the gzip data is cut short; what is there was read"
