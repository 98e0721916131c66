"""Runs the code blocks of tutorial.md one after the other and puts what they print into the text block below each.

`python docs/run_tutorial.py` from the repository root rewrites the outputs; a test holds that nothing would change.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
from pathlib import Path

PAGE = Path(__file__).with_name("tutorial.md")
CODE = re.compile(r"```python\n(?P<code>.*?)```\n(?:\n```text\n(?P<shown>.*?)```\n)?", re.DOTALL)


def executed(page: str, root: Path) -> str:
    """The page with every output as the code prints it now; the code runs with `root` as its folder."""
    names: dict[str, object] = {}
    before = Path.cwd()
    os.chdir(root)
    try:
        return CODE.sub(lambda found: _block(found["code"], names), page)
    finally:
        os.chdir(before)


def _block(code: str, names: dict[str, object]) -> str:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(code, str(PAGE), "exec"), names)
    shown = printed.getvalue()
    return f"```python\n{code}```\n" + (f"\n```text\n{shown}```\n" if shown else "")


if __name__ == "__main__":
    PAGE.write_text(executed(PAGE.read_text(encoding="utf-8"), PAGE.parent.parent), encoding="utf-8")
