"""The tutorial and the notebook show what their code prints."""

from __future__ import annotations

import json
import runpy
from typing import Any

import pytest

from conftest import DEMO, ROOT


@pytest.mark.skipif(not (DEMO / "athlete.toml").exists(), reason="no demo folder")
def test_the_tutorial_shows_what_its_code_prints() -> None:
    page = ROOT / "docs" / "tutorial.md"
    executed = runpy.run_path(str(ROOT / "docs" / "run_tutorial.py"))["executed"]
    text = page.read_text(encoding="utf-8")
    assert executed(text, ROOT) == text


@pytest.mark.skipif(not (DEMO / "athlete.toml").exists(), reason="no demo folder")
def test_the_notebook_shows_what_its_cells_give() -> None:
    """Run in order from a fresh start; of the figure its data are compared, the rest of it is plotly's own."""
    tools = runpy.run_path(str(ROOT / "docs" / "run_study.py"))
    page = ROOT / "docs" / "study.ipynb"
    notebook = json.loads(page.read_text(encoding="utf-8"))
    found = tools["executed"](notebook, ROOT)
    assert shown(found) == shown(notebook)
    assert tools["text_of"](notebook) == page.read_text(encoding="utf-8")
    kinds = {kind for cell in shown(notebook) for output in cell for kind in output.get("data", {"text": None})}
    assert kinds == {"text", "text/html", "text/plain", tools["PLOTLY"]}


def shown(notebook: dict[str, Any]) -> list[list[dict[str, Any]]]:
    """The outputs of every cell; of figures the data, of a ribbon that there is one (a piece may end a second later elsewhere)."""
    outputs = [json.loads(json.dumps(cell["outputs"])) for cell in notebook["cells"] if cell["cell_type"] == "code"]
    for output in (item for cell in outputs for item in cell):
        output.get("data", {}).get("application/vnd.plotly.v1+json", {}).pop("layout", None)
        if "text/html" in output.get("data", {}):
            output["data"]["text/html"] = "<svg" in "".join(output["data"]["text/html"])
    return outputs


def test_the_notebook_is_one() -> None:
    """nbformat 4.5, from memory of its published schema: every cell has an id of its own, code cells a count and outputs."""
    notebook = json.loads((ROOT / "docs" / "study.ipynb").read_text(encoding="utf-8"))
    assert (notebook["nbformat"], notebook["nbformat_minor"]) == (4, 5)
    ids = [cell["id"] for cell in notebook["cells"]]
    assert len(ids) == len(set(ids))
    assert {frozenset(cell) for cell in notebook["cells"]} == {
        frozenset({"cell_type", "id", "metadata", "source"}),
        frozenset({"cell_type", "id", "metadata", "source", "execution_count", "outputs"}),
    }
