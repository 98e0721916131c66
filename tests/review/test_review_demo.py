"""The demo that the package carries: written whole or not at all, never over anything, and the same as demo_activities."""

from __future__ import annotations

import errno
import os
import threading
import tomllib
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from conftest import DEMO
from steadyband.athlete import demo
from steadyband.athlete.folder import open_folder
from steadyband.ground.errors import SteadybandError, UsageError

PACKED = Path(demo.__file__).with_name("demo.zip")
NOT_CARRIED = {"simulation", "make_demo.py", "truth.json", "__pycache__", ".steadyband", "reports"}


def files_below(folder: Path) -> dict[str, bytes]:
    found = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def committed() -> dict[str, bytes]:
    return {name: data for name, data in files_below(DEMO).items() if NOT_CARRIED.isdisjoint(Path(name).parts)}


def test_each_member_is_the_committed_file_byte_for_byte() -> None:
    """Against demo_activities as committed. Two texts are the carried demo's own: README.md and one line of athlete.toml."""
    carried, kept = demo.demo_files(), committed()
    assert carried.keys() == kept.keys()
    assert {name for name in kept if carried[name] != kept[name]} == {"README.md", "athlete.toml"}
    lines = kept["athlete.toml"].decode().splitlines()
    assert [line for line in lines if line not in carried["athlete.toml"].decode().splitlines()] == [
        next(line for line in lines if line.startswith('reports = "../reports"'))
    ]


def test_texts_say_that_the_athlete_is_invented() -> None:
    carried = demo.demo_files()
    assert "Everything here is invented" in carried["README.md"].decode()
    assert "invented" in tomllib.loads(carried["athlete.toml"].decode())["name"]


def test_archive_is_small_and_carries_no_date_or_odd_name() -> None:
    """1.5 MB: chosen for the size of the wheel. 1980 is the earliest date of a zip archive: none of this machine's."""
    assert PACKED.stat().st_size < 1_500_000
    with zipfile.ZipFile(PACKED) as archive:
        members = archive.infolist()
    assert {member.date_time for member in members} == {(1980, 1, 1, 0, 0, 0)}
    assert [member.filename for member in members] == sorted(member.filename for member in members)
    assert all(".." not in member.filename and not member.filename.startswith("/") for member in members)


def test_written_demo_opens_as_an_athlete_folder_of_its_owner_alone(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "demo"
    assert demo.write_demo(folder) == len(demo.demo_files())
    assert files_below(folder) == demo.demo_files()
    home = open_folder(folder)
    assert sorted(item.test.sport for item in home.zone_sets) == ["cycling", "cycling", "running"]
    assert home.athlete.reports == folder / "reports"
    assert list(folder.parent.iterdir()) == [folder]
    if os.name == "posix":
        assert {path.stat().st_mode & 0o077 for path in (folder, *folder.rglob("*"))} == {0}


def _file(path: Path) -> None:
    path.write_text("mine", encoding="utf-8")


def _folder_with_a_file(path: Path) -> None:
    path.mkdir()
    _file(path / "notes.txt")


def _dangling_link(path: Path) -> None:
    path.symlink_to(path.with_name("nowhere"))


@pytest.mark.parametrize("make", [_file, Path.mkdir, _folder_with_a_file, _dangling_link])
def test_nothing_that_exists_is_replaced(make: Callable[[Path], None], tmp_path: Path) -> None:
    folder = tmp_path / "taken"
    make(folder)
    before = files_below(tmp_path)
    with pytest.raises(UsageError, match="expected a new name"):
        demo.write_demo(folder)
    assert files_below(tmp_path) == before
    assert list(tmp_path.iterdir()) == [folder]


def test_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = demo.replace_whole

    def full(path: Path, data: bytes) -> None:
        if path.name.endswith("flat-battery.fit"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(path, data)

    monkeypatch.setattr(demo, "replace_whole", full)
    with pytest.raises(SteadybandError, match=r"No space left on device; nothing is left of it.*4 MB of room"):
        demo.write_demo(tmp_path / "demo")
    assert list(tmp_path.iterdir()) == []


def test_stopped_in_the_middle_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(demo, "_take_name", stopped)
    with pytest.raises(KeyboardInterrupt):
        demo.write_demo(tmp_path / "demo")
    assert list(tmp_path.iterdir()) == []


def test_of_two_at_once_one_writes_and_one_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both have found the name free and written their draft before either takes the name."""
    together, real = threading.Barrier(2), demo._take_name
    outcomes: list[str] = []

    def take(draft: Path, folder: Path) -> None:
        together.wait(timeout=60)
        real(draft, folder)

    def write() -> None:
        try:
            demo.write_demo(tmp_path / "demo")
            outcomes.append("written")
        except UsageError as fault:
            outcomes.append(fault.message[:19])

    monkeypatch.setattr(demo, "_take_name", take)
    threads = [threading.Thread(target=write) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["expected a new name", "written"]
    assert files_below(tmp_path / "demo") == demo.demo_files()
    assert list(tmp_path.iterdir()) == [tmp_path / "demo"]


def test_a_package_without_its_demo_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(demo, "files", lambda _: tmp_path)
    with pytest.raises(SteadybandError, match="Install steadyband again"):
        demo.demo_files()
    (tmp_path / "demo.zip").write_bytes(PACKED.read_bytes()[:1000])
    with pytest.raises(SteadybandError, match="Install steadyband again"):
        demo.demo_files()
