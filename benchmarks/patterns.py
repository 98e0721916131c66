"""How the time of each regular expression grows with the text: 1 is in proportion, 2 with the square, more is a trap.

    python benchmarks/patterns.py [--length 150]

Every pattern of the package that stands in the source as plain text is searched for in baits of one and of four times
the length: runs of the signs that stand in the pattern, and pairs of them. The largest growth of each is told.
"""
# ruff: noqa: T201

from __future__ import annotations

import argparse
import ast
import itertools
import math
import re
import time
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "src" / "steadyband"
CALLS = {"compile", "match", "search", "fullmatch", "sub", "split", "findall", "finditer", "subn"}
LEAST_S = 0.0003
"""Times under this say nothing about growth."""
ENOUGH_S = 0.1
"""A pattern that takes longer has shown itself; its other baits are left."""


def patterns() -> Iterator[tuple[str, str | bytes]]:
    """(file and line, pattern) of every call of `re` with a plain text."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CALLS:
                owner, given = node.func.value, node.args[0] if node.args else None
                if isinstance(owner, ast.Name) and owner.id == "re" and isinstance(given, ast.Constant):
                    yield f"{path.relative_to(PACKAGE)}:{node.lineno}", given.value
    from steadyband.recording.gpx import points as gpx_points

    for name in ("_TOKEN", "_PLACE"):
        yield f"recording/gpx/points.py {name}", getattr(gpx_points, name).pattern


def baits(pattern: str, length: int) -> Iterator[str]:
    """Texts that a pattern may stumble over."""
    signs = sorted({sign for sign in pattern if not sign.isalnum() and sign not in "\\?*+|^$"} | {"a", "1", " ", "\n"})
    yield from (sign * length for sign in signs)
    yield from ((one + other) * (length // 2) for one, other in itertools.permutations(signs[:8], 2))
    yield from (one + other * length for one, other in itertools.permutations(signs[:8], 2))
    plain = re.sub(r"[\\^$?*+|(){}\[\]]", "", pattern)[:12]
    yield plain * (length // max(1, len(plain)))
    yield plain + " " * length


def seconds(pattern: re.Pattern[str], text: str) -> float:
    """The shortest of three searches."""
    best = math.inf
    for _ in range(3):
        begun = time.perf_counter()
        pattern.search(text)
        best = min(best, time.perf_counter() - begun)
    return best


def growth(source: str, length: int) -> tuple[float, float]:
    """(the largest power of the length that the time grows with, the longest time for four times the length)."""
    pattern = re.compile(source)
    worst, longest = 0.0, 0.0
    for short, long in zip(baits(source, length), baits(source, 4 * length), strict=True):
        after = seconds(pattern, long)
        longest = max(longest, after)
        if after > LEAST_S:
            worst = max(worst, math.log(after / max(seconds(pattern, short), 1e-9), 4))
        if after > ENOUGH_S:
            break
    return worst, longest


def main() -> None:
    """One line a pattern, the worst first."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--length", type=int, default=150)
    given = parser.parse_args()
    found = []
    for place, source in patterns():
        text = source.decode("latin-1") if isinstance(source, bytes) else source
        found.append((*growth(text, given.length), place, text))
    for power, longest, place, text in sorted(found, reverse=True):
        told = f"{power:4.1f}" if power else "   -"
        print(f"{told}  {longest * 1000:8.1f} ms  {place:40} {text[:70]!r}")


if __name__ == "__main__":
    main()
