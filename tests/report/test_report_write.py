"""Files are written whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from steadyband.ground.errors import SteadybandError
from steadyband.ground.writing import write_bytes_atomically, write_text_atomically


def test_writes_whole_text_for_the_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "deeper" / "week.html"
    write_text_atomically(path, "Straße\r\n")
    assert path.read_bytes() == "Straße\r\n".encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert os.listdir(path.parent) == ["week.html"]  # noqa: PTH208


def test_takes_the_place_of_an_old_file(tmp_path: Path) -> None:
    path = tmp_path / "week.html"
    path.write_text("old", encoding="utf-8")
    write_bytes_atomically(path, b"new")
    assert path.read_bytes() == b"new"


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_full_disk_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "week.html"
    path.write_text("old", encoding="utf-8")
    if failing == "fsync":
        monkeypatch.setattr(os, "fsync", full)
    else:
        monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(SteadybandError, match="Make room on the disk") as caught:
        write_text_atomically(path, "new")
    assert str(path) in str(caught.value)
    monkeypatch.undo()
    assert path.read_text(encoding="utf-8") == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["week.html"]


def test_a_file_in_the_place_of_the_folder_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "reports").write_text("not a folder", encoding="utf-8")
    with pytest.raises(SteadybandError, match="Choose a folder that you may write to"):
        write_text_atomically(tmp_path / "reports" / "week.html", "new")
    assert (tmp_path / "reports").read_text(encoding="utf-8") == "not a folder"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs a limit on file sizes (Linux)")
def test_a_real_limit_of_the_system_leaves_the_old_file(tmp_path: Path) -> None:
    """The operating system itself stops the write half-way: a limit of 4,096 bytes a file in a process of its own."""
    path = tmp_path / "week.html"
    path.write_text("old", encoding="utf-8")
    code = (
        "import resource, sys; from pathlib import Path\n"
        "from steadyband.ground.writing import write_text_atomically\n"
        "from steadyband.ground.errors import SteadybandError\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "try: write_text_atomically(Path(sys.argv[1]), 'x' * 100_000)\n"
        "except SteadybandError as fault: print(fault)"
    )
    done = subprocess.run(
        [sys.executable, "-B", "-c", code, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert "largest file size" in done.stdout
    assert path.read_text(encoding="utf-8") == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["week.html"]
