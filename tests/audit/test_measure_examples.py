"""The examples in the docstrings of the measures run as they are written."""

from __future__ import annotations

import doctest
from types import ModuleType

import pytest

from steadyband.audit.measure import dose, foot, held, hill, scatter, surging


@pytest.mark.parametrize("module", [dose, foot, held, hill, scatter, surging], ids=lambda module: module.__name__)
def test_examples_run(module: ModuleType) -> None:
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0
