"""What `settings` prints."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from steadyband.ground.settings import Settings
from steadyband.ground.settings.setting import OPEN, SettingTold
from steadyband.report.common.terminal import heading, paragraph, soft
from steadyband.report.common.words import capital, sentence, setting_text

HOW_TO_CHANGE = "Change a setting in athlete.toml under the heading of its group: below [settings.verdict] write surges_per_hour = 8."
SOURCES = (
    "METHOD and S1, S2 and so on: docs/method.md and docs/sources.md. Design choice: ours, and open to yours. "
    "Common practice: habits of the trade without one source."
)


def settings_view(settings: Settings) -> RenderableType:
    """Every setting with its value, default, allowed range, source and meaning, group by group; changed ones say so."""
    parts: list[RenderableType] = []
    group = ""
    for item in settings.told():
        if item.group != group:
            group = item.group
            parts += [Text(), heading(f"[settings.{group}]"), soft(sentence(item.topic))]
        parts.append(Padding(_setting(item), (0, 0, 0, 2), expand=False))
    return Group(paragraph(HOW_TO_CHANGE), *parts, Text(), soft(SOURCES))


def _setting(item: SettingTold) -> Text:
    changed = item.value != item.default
    name = Text(f"{item.name} = {setting_text(item.value, item.unit)}", style="bold")
    name.append(", changed" if changed else "")
    about = f"default {setting_text(item.default)}, {range_text(item.low, item.high)}; {item.source}"
    return name.append(f" ({about})", "not bold").append(f"\n  {capital(item.meaning)}.", "not bold dim")


def range_text(low: float, high: float) -> str:
    """What a setting may be: "from 0 to 1", "from 1 up"."""
    return f"from {low:g} up" if high >= OPEN else f"from {low:g} to {high:g}"
