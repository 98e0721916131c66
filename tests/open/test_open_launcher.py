"""Files to double-click: that they start what they say, whatever the folder is called.

The rules of `Exec` are those of the Desktop Entry Specification of freedesktop.org (from memory), which says that a reader takes the
string's escapes away first and the quotes after; `read_exec` does so independently of the writer.
"""

from __future__ import annotations

import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from console import run
from steadyband.open.launcher import write_launcher

FOLDERS = ("training", "my training", 'a "b" $HOME `x` 100 %', "back\\slash", "caf\u00e9 & tea's")


def read_exec(line: str) -> list[str]:
    text = line.removeprefix("Exec=").replace("\\\\", "\0").replace("\0", "\\").replace("%%", "%")
    words, word, quoted, at = [], "", False, 0
    while at < len(text):
        sign = text[at]
        if quoted and sign == "\\":
            at += 1
            word += text[at]
        elif sign == '"':
            quoted = not quoted
        elif sign == " " and not quoted:
            words.append(word)
            word = ""
        else:
            word += sign
        at += 1
    return [*words, word]


@pytest.mark.parametrize("name", FOLDERS)
def test_a_desktop_entry_names_the_folder(tmp_path: Path, name: str) -> None:
    made = write_launcher(tmp_path / name, tmp_path / "desk", "linux")
    line = next(line for line in made.read_text(encoding="utf-8").splitlines() if line.startswith("Exec="))
    assert read_exec(line) == [sys.executable, "-m", "steadyband", "open", str(tmp_path / name)]
    assert made.stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize("name", FOLDERS)
def test_a_command_file_starts_it(tmp_path: Path, name: str) -> None:
    made = write_launcher(tmp_path / name, tmp_path / "desk", "darwin")
    line = made.read_text(encoding="utf-8").splitlines()[1]
    assert shlex.split(line.removeprefix("exec "))[-1] == str(tmp_path / name)
    told = subprocess.run(
        ["sh", "-c", line.replace("exec ", "printf '%s\\n' ", 1)], capture_output=True, text=True, check=True
    )
    assert told.stdout.splitlines()[-1] == str(tmp_path / name)


def test_a_batch_file_holds_no_variable(tmp_path: Path) -> None:
    made = write_launcher(tmp_path / "100 %PATH%", tmp_path / "desk", "win32")
    assert '100 %%PATH%%"\r\n' in made.read_bytes().decode()


def test_the_command_writes_one_and_never_over_another(tmp_path: Path) -> None:
    done = run("open", "my-training", "--launcher", tmp_path, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert len(list(tmp_path.iterdir())) == 1
    again = run("open", "my-training", "--launcher", tmp_path, cwd=tmp_path)
    assert again.returncode == 2
    assert "Delete that one first" in again.stderr
    assert run("open", "--launcher", tmp_path).returncode == 2
    with pytest.raises(ValueError, match="can be shown"):
        write_launcher(tmp_path / "a\nb", tmp_path / "other", "linux")
