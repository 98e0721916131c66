"""The week comes without any network device. (That no command opens a socket: tests/trust/test_recordings_untouched.py.)"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from demo_home import copy_read


def test_the_week_comes_without_any_network_device(read_demo: Path, tmp_path: Path) -> None:
    """In a network namespace of its own there is nothing to connect to, not even for libraries that are not Python."""
    cut_off = ["unshare", "-rn"]
    if (
        shutil.which("unshare") is None
        or subprocess.run([*cut_off, "true"], check=False, capture_output=True).returncode
    ):
        pytest.skip("this system or user may not make network namespaces (unshare -rn)")
    copy_read(read_demo, tmp_path / "athlete")
    command = [*cut_off, sys.executable, "-m", "steadyband", "week", str(tmp_path / "athlete")]
    done = subprocess.run(command, env=dict(os.environ), capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
