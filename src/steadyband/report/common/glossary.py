"""The words of the trade that pages use, explained in a line each where they stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from steadyband.ground.settings import Settings
from steadyband.ground.units import duration_text

if TYPE_CHECKING:
    from markupsafe import Markup


def glossary(settings: Settings) -> dict[str, str]:
    """Word: what it means in a line, by the settings in force."""
    test, surges = settings.steptest, settings.surges
    above = "mmol/L of lactate above the flat part of the test's curve"
    return {
        "floor": f"where easy ends and steady begins, {test.rise:g} {above}",
        "target top": f"the highest average a steady session should have, {test.target_rise:g} {above}",
        "ceiling": f"where steady ends and heavy begins, {test.ceiling_rise:g} {above}",
        "agreement": (
            f"how sure the test is: of the {test.draws:,} curves that its samples allow, the share that gives the same verdict; "
            f"under {100 * settings.verdict.unsure_below:.0f} % it is unsure"
        ),
        "surge": (
            f"a stretch whose {surges.window_s:g}-s mean adds up to at least {surges.dose_s:g} s' worth of the ceiling above it"
        ),
        "load drift": (
            f"the {duration_text(settings.drift.window_s)} mean of the load stood at or above the ceiling: in five zones, "
            "the beginning of zone 3"
        ),
    }


def terms(settings: Settings, shown: Mapping[str, str] | None = None) -> dict[str, Markup]:
    """Each word of the glossary as a button that tells its line on hover, focus or tap; `shown` names another form of it."""
    from markupsafe import Markup

    button = Markup('<button type="button" class="term" data-tip="{}" aria-description="{}">{}</button>')
    lines = glossary(settings)
    return {
        word: button.format(f"{word[:1].upper()}{word[1:]}: {line}.", line, (shown or {}).get(word, word))
        for word, line in lines.items()
    }
