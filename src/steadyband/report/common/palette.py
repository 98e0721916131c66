"""Colours and patterns (VOCABULARY.md, Look), for light and dark screens. Figures name them `var(--name)`.

What a figure needs to be understood stands out from its ground by 3 to 1 or has an outline or pattern that does, and text by
4.5 to 1 (WCAG 2.2, success criteria 1.4.11 and 1.4.3); `faint`, `line` and the see-through shades only accompany it.
"""

from __future__ import annotations

from collections.abc import Mapping

BAND_COLOURS: Mapping[str, str] = {"easy": "#A9D3CF", "steady": "#2C6E8F", "heavy": "#D98A29", "severe": "#7B2D4E"}

LIGHT: Mapping[str, str] = {
    **BAND_COLOURS,
    "hatch": "#EAD3DC",
    "grain": "#6B3D05",
    "upper": "#A8640C",
    "ink": "#1C2430",
    "paper": "#FBFAF7",
    "card": "#FFFFFF",
    "soft": "#55606E",
    "line": "#D9D6CC",
    "outline": "#838B98",
    "blank": "#FFFFFF",
    "resting": "#EBE8DF",
    "dots": "#838B98",
    "amiss": "#8A3B12",
    "link": "#1F5A78",
    "trace": "#2C6E8F",
    "faint": "#B9C4CC",
    "pulse": "#7B2D4E",
    "tint": "rgba(44, 110, 143, 0.10)",
    "shade": "rgba(28, 36, 48, 0.13)",
    "drifted": "rgba(217, 138, 41, 0.18)",
    "label": "rgba(255, 255, 255, 0.72)",
}
DARK: Mapping[str, str] = {
    **LIGHT,
    "severe": "#A8446F",
    "steady": "#327699",
    "hatch": "#14191F",
    "grain": "#14191F",
    "upper": "#D98A29",
    "ink": "#E8E6DF",
    "paper": "#14191F",
    "card": "#1B2129",
    "soft": "#A9B1BC",
    "line": "#333B46",
    "outline": "#7E8896",
    "blank": "#14191F",
    "resting": "#2A313B",
    "dots": "#8B93A0",
    "amiss": "#F0A97A",
    "link": "#8EC5E2",
    "trace": "#7FBBDB",
    "faint": "#47525F",
    "pulse": "#D98AAE",
    "tint": "rgba(127, 187, 219, 0.12)",
    "shade": "rgba(232, 230, 223, 0.16)",
    "drifted": "rgba(217, 138, 41, 0.26)",
    "label": "rgba(27, 33, 41, 0.72)",
}


def token(name: str) -> str:
    """The colour `name` as a figure and a style sheet name it."""
    return f"var(--{name})"
