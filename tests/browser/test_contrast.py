"""Contrast worked out from the palette by the published formula (WCAG 2.2, relative luminance and contrast ratio).

Text stands out by 4.5 to 1 (1.4.3), what a figure needs to be understood by 3 to 1 (1.4.11): by its own colour, its outline, or
the lines of its pattern. Bands stay apart without hue, in grey print and for every kind of colour vision."""

from __future__ import annotations

import itertools
import re

import pytest
from made_pages import TEMPLATES

from steadyband.report.common.figure_base import HATCH
from steadyband.report.common.palette import BAND_COLOURS, DARK, LIGHT
from steadyband.report.test.figure_curve import EDGE_COLOURS

MODES = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
TEXT = ("ink", "soft", "amiss", "link")
GROUNDS = ("paper", "card")
SHADES = ("tint", "shade", "drifted")
MARKS = ("outline", "dots", "trace", "pulse", "ink", "amiss", "upper", "steady", "severe", "soft")
"""Lines, marks and outlines that are drawn on the paper."""
ALONG = {"line", "faint", *SHADES, "label"}
"""Grid lines, the line of each second behind its mean, and shades: they go along with what is told otherwise."""
PATTERNED = {"heavy": "grain", "severe": "hatch"}
OUTLINED = {"easy", "resting", "blank"}


def channels(colour: str) -> list[float]:
    return [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition; published)."""
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in channels(colour)]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition; published)."""
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def over(shade: str, ground: str) -> str:
    """What an rgba() shade gives on a ground: each channel mixed by its share (CSS Color 4, source over; published)."""
    red, green, blue, share = (float(part) for part in re.findall(r"[\d.]+", shade))
    mixed = [
        255 * (share * top / 255 + (1 - share) * low)
        for top, low in zip((red, green, blue), channels(ground), strict=True)
    ]
    return "#" + "".join(f"{round(part):02X}" for part in mixed)


def test_the_formula_against_published_values() -> None:
    # published: black on white is 21 to 1, the same colour 1 to 1 (WCAG 2.2, contrast ratio "from 1 to 21")
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#123456", "#123456") == 1
    # from memory (often shown beside the criterion): #767676 is the lightest grey with 4.5 on white
    assert contrast("#767676", "#FFFFFF") >= 4.5 > contrast("#777777", "#FFFFFF")
    # by hand: half of white over black is the middle grey
    assert over("rgba(255, 255, 255, 0.5)", "#000000") == "#808080"


@MODES
def test_every_colour_is_judged(palette: dict[str, str]) -> None:
    judged = {*TEXT, *GROUNDS, *MARKS, *ALONG, *BAND_COLOURS, *PATTERNED.values(), *OUTLINED}
    assert set(palette) == judged


@MODES
@pytest.mark.parametrize("ink", TEXT)
def test_text(palette: dict[str, str], ink: str) -> None:
    grounds = [palette[name] for name in GROUNDS]
    grounds += [over(palette[shade], palette["paper"]) for shade in SHADES] if ink in ("ink", "soft") else []
    assert min(contrast(palette[ink], ground) for ground in grounds) >= 4.5


@MODES
@pytest.mark.parametrize("mark", MARKS)
def test_marks_on_the_paper(palette: dict[str, str], mark: str) -> None:
    assert contrast(palette[mark], palette["paper"]) >= 3


@MODES
def test_the_focus_is_seen(palette: dict[str, str]) -> None:
    """1.4.11 holds for the ring of the focus too."""
    assert "outline: 2px solid var(--link)" in (TEMPLATES / "common" / "templates" / "page.css").read_text(
        encoding="utf-8"
    )
    assert contrast(palette["link"], palette["paper"]) >= 3


@MODES
@pytest.mark.parametrize("band", BAND_COLOURS)
def test_a_band_stands_out_from_the_paper(palette: dict[str, str], band: str) -> None:
    if band in OUTLINED:
        assert contrast(palette["outline"], palette["paper"]) >= 3
    elif band == "heavy":
        assert contrast(palette["grain"], palette["paper"]) >= 3 or contrast(palette["heavy"], palette["paper"]) >= 3
    else:
        assert contrast(palette[band], palette["paper"]) >= 3


@MODES
@pytest.mark.parametrize(("one", "other"), list(itertools.combinations(BAND_COLOURS, 2)))
def test_bands_stay_apart_without_hue(palette: dict[str, str], one: str, other: str) -> None:
    """By lightness, or by patterns that differ and whose lines stand out from their own ground."""
    lines = [name for name in (one, other) if name in PATTERNED]
    patterns = [HATCH[name]["shape"] if name in HATCH else "" for name in (one, other)]
    seen = [contrast(palette[PATTERNED[name]], palette[name]) >= 3 for name in lines]
    assert contrast(palette[one], palette[other]) >= 3 or (patterns[0] != patterns[1] and lines and all(seen))


def test_patterns_are_drawn_in_the_colours_judged_here() -> None:
    assert {name: HATCH[name]["fgcolor"] for name in PATTERNED} == {n: f"var(--{c})" for n, c in PATTERNED.items()}
    assert all(HATCH[name]["fgopacity"] == 1 for name in PATTERNED)
    css = (TEMPLATES / "common" / "templates" / "page.css").read_text(encoding="utf-8")
    assert "#hatch-heavy .s-line { fill: var(--grain); }" in css
    assert ".s-line { fill: var(--hatch); }" in css


def test_in_grey_print_bands_keep_their_order_of_lightness() -> None:
    """Easy is the lightest, then heavy, steady and severe; each step by a fifth or more of the lighter one's contrast."""
    greys = [luminance(BAND_COLOURS[name]) + 0.05 for name in ("easy", "heavy", "steady", "severe")]
    assert all(light / dark >= 1.5 for light, dark in itertools.pairwise(greys))


@MODES
def test_edges_of_a_test_are_seen(palette: dict[str, str]) -> None:
    for colour in EDGE_COLOURS.values():
        assert contrast(palette[colour], palette["paper"]) >= 3


@pytest.mark.parametrize(("words", "ground"), [("#1C2430", "easy"), ("#fff", "steady")])
def test_words_on_the_cards_bar(words: str, ground: str) -> None:
    assert (
        f".bar .{ground} {{ background: var(--{ground}); color: {words}; }}"
        in (TEMPLATES / "common" / "templates" / "sheet.css").read_text()
    )
    full = "#FFFFFF" if words == "#fff" else words
    assert min(contrast(full, palette[ground]) for palette in (LIGHT, DARK)) >= 4.5
