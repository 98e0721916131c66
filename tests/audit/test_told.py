"""Codes and numbers in words: every finding has them, one without them is told plainly, and nothing stored holds a sentence."""

from __future__ import annotations

import ast
import dataclasses
import doctest
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from audit_builders import SETTINGS, Chosen, make_info, make_zone_set, power_rows

from conftest import ROOT
from steadyband.athlete.condensed import condense
from steadyband.audit import edges, judge
from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings import RULES, Rule
from steadyband.audit.findings.facts import BoolArray, Facts
from steadyband.audit.model import Audit
from steadyband.audit.session import audit_session
from steadyband.ground.reader import Reader, written_for
from steadyband.ground.settings import Settings
from steadyband.report.common.words import verdict_label
from steadyband.report.session.view import session_view
from steadyband.review import sentences
from steadyband.review.roster_sentences import lost_head
from steadyband.steptest.curve.checks import BLOCKING
from steadyband.told import audit_to_dict, audit_to_flat, contract_schema, finding_text, findings, loads, reasons
from steadyband.told.findings import WORDS

READING = (ROOT / "docs" / "reading-the-report.md").read_text(encoding="utf-8")
PACKAGE = ROOT / "src" / "steadyband"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_every_finding_has_words_settings_and_a_place_in_the_contract(rule: Rule) -> None:
    words = WORDS.get(rule.code)
    assert words is not None, f"{rule.code} has no words in told/findings.py"
    assert words.label
    assert callable(words.change)
    assert callable(words.where)
    told = contract_schema()["$defs"]["finding"]["properties"]["code"]["description"]
    assert rule.code in told.replace(",", " ").split(), f"{rule.code} is not in told/contract.schema.json"
    assert set(rule.settings_used(SETTINGS)) == set(rule.uses)
    assert f"| {words.label} |" in READING, f"{words.label} has no row in docs/reading-the-report.md"


def test_no_two_findings_share_a_code_or_a_place() -> None:
    assert len({rule.code for rule in RULES}) == len({rule.place for rule in RULES}) == len(RULES)
    assert set(WORDS) == {rule.code for rule in RULES} | {"not_judged"}


def ever(facts: Facts, sets: EdgeSets, settings: Settings) -> BoolArray:
    return np.ones(len(sets), bool)


THROWN_AWAY = Rule("moon_was_full", 5, ("endurance",), (), ever, lambda facts: {"places": []})


@pytest.fixture
def odd(monkeypatch: pytest.MonkeyPatch) -> Audit:
    """A session with a finding that nobody wrote words for."""
    monkeypatch.setattr(judge, "RULES", (THROWN_AWAY, *RULES))
    return audit_session(power_rows(np.full(3600, 190.0)), make_info(), Chosen(make_zone_set()), SETTINGS)


def test_a_finding_without_words_is_told_plainly_everywhere(odd: Audit) -> None:
    (found,) = odd.verdict.findings
    assert finding_text(odd, found) == "Found: moon was full. The evidence has the numbers."
    assert audit_to_dict(odd)["verdict"]["findings"][0]["code"] == "moon_was_full"
    assert "moon was full" in str(audit_to_flat(odd)["findings_text"])
    assert verdict_label(odd) == "moon was full"
    assert session_view(odd, 1, 3600).findings[0].label == "moon was full"
    assert "moon was full" in sentences.answer([odd], 0)
    assert sentences.changes([odd])[0].head == "Look at this: moon was full."
    assert "moon was full" in lost_head(odd)


def test_one_audit_is_told_to_each_reader_in_their_own_units() -> None:
    load = np.concatenate((np.full(2000, 185.0), np.full(1200, 225.0)))
    found = audit_session(power_rows(load), make_info(), Chosen(make_zone_set()), SETTINGS)
    (drifted,) = [item for item in found.verdict.findings if item.code == "zone_3_drift"]
    # By hand: 195 s at 185 W and 405 s at 225 W mean 212 W, a window from second 1805 on: 06:31:04Z + 0:30:05 = 07:01:09Z, 09:01 in Berlin.
    with written_for(Reader("miles", "12h")):
        assert "9:01 am" in finding_text(found, drifted)
    assert "09:01" in finding_text(found, drifted)


def texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return [text for item in dataclasses.fields(value) for text in texts(getattr(value, item.name))]
    if isinstance(value, dict):
        return [text for part in (*value, *value.values()) for text in texts(part)]
    return [text for part in value for text in texts(part)] if isinstance(value, (list, tuple)) else []


@pytest.mark.parametrize("intent", ["endurance", "easy", "hard"])
def test_an_audit_holds_no_sentence(intent: str) -> None:
    """Every text in it is a code, a name or a date: none has three words with a full stop."""
    load = np.full(3600, 190.0)
    load[400:2200:60] = 320.0
    load[2400:] = 230.0
    zones = make_zone_set(ceiling=None, floor=None) if intent == "hard" else make_zone_set(jumped=True)
    found = audit_session(power_rows(load), make_info(intent=intent), Chosen(zones, 130, "stale"), SETTINGS)
    assert found.quality.notes
    bare = dataclasses.replace(found, settings=None)  # type: ignore[arg-type]  # their meanings are sentences, and not stored
    for text in (*texts(bare), *texts(dataclasses.replace(condense(found), audit=bare))):
        assert text.count(" ") < 3 or not text.rstrip().endswith((".", "?")), text


def test_the_judging_room_imports_no_words() -> None:
    """Nothing under audit/ imports the functions that write for people."""
    wordy = {"steadyband.ground.units", "steadyband.ground.reader"}
    for path in (PACKAGE / "audit").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        if path.name != "route.py":  # a plan for a page, never stored
            assert not named & wordy, path


def test_every_blocking_check_has_its_words() -> None:
    source = Path(PACKAGE / "steptest/curve/checks.py").read_text(encoding="utf-8")
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    blocking = {
        call.args[0].value
        for call in calls
        if isinstance(call.func, ast.Name)
        and call.func.id == "Check"
        and isinstance(call.args[1], ast.Constant)
        and call.args[1].value == "block"
        and isinstance(call.args[0], ast.Constant)
    }
    assert blocking == set(BLOCKING)


@pytest.mark.parametrize(
    "module",
    [sys.modules["steadyband.steptest.choose"], edges, findings, loads, reasons],
    ids=lambda module: module.__name__,
)
def test_the_examples_run(module: ModuleType) -> None:
    found = doctest.testmod(module)
    assert (found.failed, found.attempted > 0) == (0, True)
