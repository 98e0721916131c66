"""Every default of the method as a setting: value, unit, meaning, where it comes from, allowed range.

`athlete.toml` changes them under `[settings.GROUP]`; `Settings.from_mapping` checks names and ranges.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from steadyband.ground.errors import AthleteFileError
from steadyband.ground.plain import shown
from steadyband.ground.settings.review import BlockSettings, CopySettings, GuessSettings
from steadyband.ground.settings.session import (
    BandSettings,
    CleaningSettings,
    DriftSettings,
    FootSettings,
    GridSettings,
    SurgeSettings,
    TerrainSettings,
    VerdictSettings,
)
from steadyband.ground.settings.setting import SettingTold
from steadyband.ground.settings.steptest import StepTestSettings

__all__ = [
    "BandSettings",
    "BlockSettings",
    "CleaningSettings",
    "CopySettings",
    "DriftSettings",
    "FootSettings",
    "GridSettings",
    "GuessSettings",
    "Settings",
    "StepTestSettings",
    "SurgeSettings",
    "TerrainSettings",
    "VerdictSettings",
]


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings, by group."""

    steptest: StepTestSettings = field(default_factory=StepTestSettings)
    grid: GridSettings = field(default_factory=GridSettings)
    cleaning: CleaningSettings = field(default_factory=CleaningSettings)
    bands: BandSettings = field(default_factory=BandSettings)
    surges: SurgeSettings = field(default_factory=SurgeSettings)
    terrain: TerrainSettings = field(default_factory=TerrainSettings)
    foot: FootSettings = field(default_factory=FootSettings)
    drift: DriftSettings = field(default_factory=DriftSettings)
    verdict: VerdictSettings = field(default_factory=VerdictSettings)
    block: BlockSettings = field(default_factory=BlockSettings)
    guess: GuessSettings = field(default_factory=GuessSettings)
    copies: CopySettings = field(default_factory=CopySettings)

    @classmethod
    def from_mapping(cls, table: Mapping[str, Any], file: str = "athlete.toml") -> Settings:
        """Settings with the groups of `table` laid over the defaults.

        Raises AthleteFileError naming group, key, expected and found.
        """
        groups = {item.name: item for item in dataclasses.fields(cls)}
        changed: dict[str, Any] = {}
        for name, values in table.items():
            if name not in groups or not isinstance(values, Mapping):
                raise AthleteFileError(
                    f"expected a settings group, one of {', '.join(groups)}; found {shown(name)}.",
                    file=file,
                    place=f"[settings.{name}]",
                )
            group = getattr(cls(), name)
            checked = {key: _checked(group, name, key, value, file) for key, value in values.items()}
            changed[name] = dataclasses.replace(group, **checked)
        return cls(**changed)

    def told(self) -> Iterator[SettingTold]:
        """Every setting with all that is known about it, group by group."""
        for group in dataclasses.fields(self):
            values = getattr(self, group.name)
            topic = (type(values).__doc__ or "").strip().rstrip(".")
            for item in dataclasses.fields(values):
                value, default = getattr(values, item.name), item.default
                yield SettingTold(group.name, topic, item.name, value, default, **item.metadata)  # type: ignore[arg-type]

    def rows(self) -> Iterator[tuple[str, float, float, str, str, str]]:
        """(name, value, default, unit, meaning, source) of every setting."""
        for group in dataclasses.fields(self):
            values = getattr(self, group.name)
            for item in dataclasses.fields(values):
                meta = item.metadata
                yield (
                    f"{group.name}.{item.name}",
                    getattr(values, item.name),
                    item.default,  # type: ignore[misc]
                    meta["unit"],
                    meta["meaning"],
                    meta["source"],
                )


def _checked(group: Any, name: str, key: str, value: object, file: str) -> float:
    place = f"[settings.{name}] {key}"
    known = {item.name: item for item in dataclasses.fields(group)}
    if key not in known:
        raise AthleteFileError(f"no such setting; known here: {', '.join(known)}.", file=file, place=place)
    item = known[key]
    whole = item.type == "int"
    if isinstance(value, bool) or not isinstance(value, int if whole else (int, float)):
        wanted = "a whole number" if whole else "a number"
        raise AthleteFileError(f"expected {wanted}, found {shown(value)}.", file=file, place=place)
    low, high = item.metadata["low"], item.metadata["high"]
    if not low <= value <= high:
        raise AthleteFileError(f"expected {low:g} to {high:g}, found {shown(value)}.", file=file, place=place)
    return value
