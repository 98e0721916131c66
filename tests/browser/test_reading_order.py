"""What a screen reader meets, in order, by Chromium's own accessibility tree: the answer first, then what to do, then the evidence."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from visits import Visit

pytestmark = pytest.mark.browser
TOLD = {"heading", "image", "table", "list", "link", "DisclosureTriangle", "button"}
ORDER = {
    "week": [
        ("heading", "Two of four endurance sessions held the band."),
        ("image", "Ribbon of Tue 12 May"),
        ("image", "Ribbon of Sun 17 May"),
        ("heading", "What to change"),
        ("StaticText", "Hold the last part at 200 W or less."),
        ("heading", "Next week’s numbers"),
        ("table", "Next week’s numbers"),
        ("heading", "Take care"),
        ("heading", "Behind this sheet"),
        ("DisclosureTriangle", "To decide before the next block"),
        ("DisclosureTriangle", "Tue 12 May, ride"),
        ("DisclosureTriangle", "The test in force"),
    ],
    "test": [
        ("heading", "Steady from"),
        ("heading", "The curve"),
        ("image", "Lactate against load"),
        ("heading", "The edges"),
        ("table", "Edges"),
        ("heading", "Checks"),
        ("heading", "Take care"),
        ("heading", "Behind this sheet"),
        ("DisclosureTriangle", "How far the methods disagree"),
    ],
}
"""Role and the beginning of the name of what has to come, in this order; other things may stand between."""


def tree(visit: Visit) -> list[tuple[str, str]]:
    """(role, name) of everything in the accessibility tree, in reading order."""
    client = visit.context.new_cdp_session(visit.page)
    nodes = client.send("Accessibility.getFullAXTree")["nodes"]
    by_id = {node["nodeId"]: node for node in nodes}
    found: list[tuple[str, str]] = []

    def walk(node: dict[str, Any]) -> None:
        if not node.get("ignored"):
            found.append((node["role"]["value"], str(node.get("name", {}).get("value", ""))))
        for child in node.get("childIds", ()):
            if child in by_id:
                walk(by_id[child])

    walk(nodes[0])
    return found


@pytest.mark.parametrize("name", ORDER)
def test_the_answer_comes_first_and_the_evidence_last(browser: Any, pages: dict[str, Path], name: str) -> None:
    with Visit(browser, pages[name], width=390) as visit:
        found = tree(visit)
    at = -1
    for role, begins in ORDER[name]:
        after = [n for n in range(at + 1, len(found)) if found[n][0] == role and found[n][1].startswith(begins)]
        assert after, (role, begins, [item for item in found[at + 1 :] if item[0] in TOLD][:12])
        at = after[0]


def test_every_picture_and_button_of_the_tree_has_a_name(browser: Any, pages: dict[str, Path]) -> None:
    for name in ORDER:
        with Visit(browser, pages[name]) as visit:
            assert [
                item for item in tree(visit) if item[0] in ("image", "button", "link") and not item[1].strip()
            ] == []


def test_what_is_needed_lies_on_a_phones_screen(browser: Any, pages: dict[str, Path]) -> None:
    """At 390 px no table of the first sheet scrolls sideways, and the edges on the curve are inside the figure."""
    for name in ("week", "test", "block"):
        with Visit(browser, pages[name], width=390) as visit:
            wide = "() => [...document.querySelectorAll('.first .table')].filter((t) => t.checkVisibility() && t.scrollWidth > t.clientWidth + 1).length"
            assert visit.page.evaluate(wide) == 0, name
            if name == "test":
                for text in ("floor", "target top", "ceiling"):
                    box = visit.page.locator("#curve .annotation-text", has_text=text).first.bounding_box()
                    assert box["x"] >= 0
                    assert box["x"] + box["width"] <= 390
