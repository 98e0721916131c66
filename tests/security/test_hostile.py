"""Every hostile input through the real command: its sentence, its exit status, and nothing else than that."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest
from hostile_base import Hostile
from hostile_run import CANARY, Page, contents_of, control_characters, run, with_canary
from make_hostile import CORPUS, write_all


@pytest.mark.parametrize("item", CORPUS, ids=lambda item: item.name)
def test_hostile_input_costs_a_sentence(item: Hostile, tmp_path: Path) -> None:
    if not item.possible():
        pytest.skip("this system or user cannot hold such a thing")
    home = tmp_path / "home"
    item.write(home)
    with_canary(tmp_path)
    before = contents_of(tmp_path, home)
    done = run(home, *item.command)
    assert "Traceback" not in done.told
    assert re.search(item.said, done.told), done.told[:2000]
    assert done.status == item.status, done.told[:2000]
    assert control_characters(done.told) == []
    assert contents_of(tmp_path, home) == before
    pages = [path.read_text(encoding="utf-8") for path in sorted(home.rglob("*.html"))]
    assert not any(CANARY in text for text in (done.told, *pages))
    for text in pages:
        assert Page(text).injected == []
    if item.command[:2] == ("audit", "activities") and item.command[-1] == "json":
        assert '"file": "good.fit"' in done.out, "one bad file stopped the others"


def test_there_are_enough_and_each_is_named_once() -> None:
    names = [item.name for item in CORPUS]
    assert len(names) == len(set(names))
    assert len(names) >= 150


def test_the_same_bytes_every_time(tmp_path: Path) -> None:
    """Small ones of every kind, written twice."""
    import hostile_packed
    import hostile_tests

    for made in (hostile_tests.xlsx, hostile_packed._three_deep, hostile_packed._locked):
        assert hashlib.sha256(made()).digest() == hashlib.sha256(made()).digest()
    one, two = tmp_path / "one", tmp_path / "two"
    chosen = [item for item in CORPUS if item.name.startswith(("text-", "athlete-"))]
    for folder in (one, two):
        for item in chosen:
            item.write(folder / item.name)
    digests = [
        [(p.name, hashlib.sha256(p.read_bytes()).hexdigest()) for p in sorted(f.rglob("*")) if p.is_file()]
        for f in (one, two)
    ]
    assert digests[0] == digests[1]


__all__ = ["write_all"]
