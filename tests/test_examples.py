"""Every example in a docstring of the package runs and prints what it shows."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest

from conftest import ROOT

SOURCE = ROOT / "src"
WITH_EXAMPLES = [path for path in sorted(SOURCE.rglob("*.py")) if "    >>> " in path.read_text(encoding="utf-8")]
CORE = ("recording/registry.py", "ground/road.py", "ground/values.py", "review/model.py", "report/common/ribbon.py")
"""Files whose public functions are met first: an example stands in each."""


@pytest.mark.parametrize("path", WITH_EXAMPLES, ids=lambda path: path.relative_to(SOURCE / "steadyband").as_posix())
def test_examples_run(path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    name = ".".join(path.relative_to(SOURCE).with_suffix("").parts)  # type: ignore[attr-defined]
    found = doctest.testmod(import_module(name), optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE)
    assert (found.failed, found.attempted > 0) == (0, True)


def test_the_core_has_examples() -> None:
    shown = {path.relative_to(SOURCE / "steadyband").as_posix() for path in WITH_EXAMPLES}
    assert set(CORE) <= shown
