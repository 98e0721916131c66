"""Runs the notebook study.ipynb from the repository root, cell by cell, and keeps what each cell shows.

`python docs/run_study.py` rewrites the outputs; a test holds that nothing would change. It is an ordinary notebook (nbformat 4.5):
open it where you like. Here it is run by Python alone, so that no notebook program is needed.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import os
from pathlib import Path
from typing import Any

PAGE = Path(__file__).with_name("study.ipynb")
PLOTLY = "application/vnd.plotly.v1+json"


def executed(notebook: dict[str, Any], root: Path) -> dict[str, Any]:
    """The notebook with every output as its cells give it now; they run in order, in one namespace, with `root` as their folder."""
    names: dict[str, Any] = {}
    before, count, cells = Path.cwd(), 0, []
    os.chdir(root)
    try:
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                count += 1
                outputs = _outputs("".join(cell["source"]), names, count)
                cell = {**cell, "execution_count": count, "outputs": outputs}
            cells.append(cell)
    finally:
        os.chdir(before)
    return {**notebook, "cells": cells}


def _outputs(code: str, names: dict[str, Any], count: int) -> list[dict[str, Any]]:
    """What a cell prints, and what its last line shows where that is an expression."""
    tree = ast.parse(code)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(tree, str(PAGE), "exec"), names)
        value = eval(compile(ast.Expression(last.value), str(PAGE), "eval"), names) if last else None
    told = printed.getvalue()
    stream = [{"name": "stdout", "output_type": "stream", "text": told.splitlines(keepends=True)}] if told else []
    if value is None:
        return stream
    return [*stream, {"data": _shown(value), "execution_count": count, "metadata": {}, "output_type": "execute_result"}]


def _shown(value: Any) -> dict[str, Any]:
    if hasattr(value, "to_plotly_json"):
        return {PLOTLY: json.loads(value.to_json()), "text/plain": ["A figure."]}
    page = value._repr_html_() if hasattr(value, "_repr_html_") else None
    plain = {"text/plain": repr(value).splitlines(keepends=True)}
    return {"text/html": page.splitlines(keepends=True), **plain} if page else plain


def text_of(notebook: dict[str, Any]) -> str:
    """The notebook as its file has it."""
    return json.dumps(notebook, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    PAGE.write_text(text_of(executed(json.loads(PAGE.read_text(encoding="utf-8")), PAGE.parent.parent)), "utf-8")
