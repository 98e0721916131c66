"""WCAG 2.2 AA on every page kind, checked by axe-core (reference library: axe-core 4.x through axe-playwright-python)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from made_pages import KINDS, TEMPLATES
from visits import Visit

pytestmark = pytest.mark.browser
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
"""axe-core's tags for WCAG 2.0, 2.1 and 2.2 at levels A and AA; its best practices are held to as well."""
LOOKS = ["color-contrast", "target-size", "scrollable-region-focusable", "link-in-text-block"]
"""The rules that depend on colours and places."""
STATES = [
    ("light", 320, True, RULES),
    ("dark", 1280, True, LOOKS),
    ("light", 1280, False, LOOKS),
    ("dark", 320, False, RULES),
]
"""Scheme, width, everything unfolded, rules: each pair of the three occurs once; what neither scheme nor width can change is
checked unfolded and folded."""
UNDECIDED = {"color-contrast", "th-has-data-cells"}
"""What axe-core may leave undecided: text of one sign or in front of a drawing (test_contrast.py works those out), and the head
of a group of rows."""
PLAIN_TABLES = ".table { background: none !important; }"
"""Takes the shade off that hints at a table's hidden part: axe-core cannot measure text on it. The paper under it stays."""


def audit(page: Any, rules: list[str] = RULES) -> dict[str, Any]:
    sync = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    options = {"runOnly": rules, "resultTypes": ["violations"]}
    found: dict[str, Any] = sync.Axe().run(page, options=options).response
    return found


def told(found: dict[str, Any]) -> list[str]:
    """Each violation in a line: rule, how often, the first place."""
    return [f"{item['id']} x{len(item['nodes'])} at {item['nodes'][0]['target']}" for item in found["violations"]]


def test_every_kind_is_made() -> None:
    """A new page template has to be added to made_pages.KINDS, and so comes under every test here."""
    bases = ('{% extends "page.html.j2" %}', '{% extends "sheet.html.j2" %}')
    kinds = {path.name for path in TEMPLATES.rglob("*.j2") if path.read_text(encoding="utf-8").startswith(bases)}
    assert set(KINDS.values()) == kinds


@pytest.mark.parametrize("name", KINDS)
def test_no_violation(browser: Any, pages: dict[str, Path], name: str) -> None:
    with Visit(browser, pages[name], bypass_csp=True) as visit:
        visit.page.add_style_tag(content=PLAIN_TABLES)
        for scheme, width, unfolded, rules in STATES:
            visit.set(width, scheme)
            visit.fold(unfolded)
            found = audit(visit.page, rules)
            assert told(found) == [], (scheme, width, unfolded)
            assert "color-contrast" in {item["id"] for item in found["passes"]}
            assert rules is LOOKS or len(found["passes"]) >= 15
            assert {item["id"] for item in found["incomplete"]} <= UNDECIDED
            if unfolded:
                visit.keep(f"{name}-{scheme}-{width}")


TINY = '<a href="#main" style="display:inline-block;width:9px;height:9px;line-height:9px;overflow:hidden">x</a>'
FAULTS = {
    "image-alt": "document.querySelector('main').append(new Image())",
    "aria-valid-attr-value": "document.querySelector('.plot').setAttribute('aria-details', 'nowhere')",
    "color-contrast": "document.querySelector('h1').style.color = 'var(--line)'",
    "target-size": f"document.querySelector('main').insertAdjacentHTML('beforeend', `<div>{TINY}{TINY}</div>`)",
    "scrollable-region-focusable": "(() => { const t = [...document.querySelectorAll('.table')].find((box) => box.checkVisibility()); t.style.width = '80px'; t.removeAttribute('tabindex'); })()",
    "label": "document.querySelector('main').append(document.createElement('input'))",
}


@pytest.mark.parametrize("rule", FAULTS)
def test_a_planted_fault_is_found(browser: Any, pages: dict[str, Path], rule: str) -> None:
    """No check that cannot fail: the same check, with a fault put into the page."""
    with Visit(browser, pages["test"], width=320, bypass_csp=True) as visit:
        assert rule not in {item["id"] for item in audit(visit.page)["violations"]}
        visit.page.evaluate(f"() => {{ {FAULTS[rule]}; }}")
        assert rule in {item["id"] for item in audit(visit.page)["violations"]}
