"""The athlete folders of a roster: found one or two levels down, and none whose paths lead into another athlete's files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from steadyband.athlete.athlete import NAME, read_athlete
from steadyband.athlete.folder import real_path
from steadyband.ground.errors import SteadybandError, UsageError
from steadyband.ground.plain import plain

DEPTH = 2
"""Levels below the roster's folder in which athlete folders are looked for: athletes, or clubs of athletes."""
SETTINGS = ("reports", "tests", "activities")
"""What athlete.toml may lead elsewhere."""


@dataclass(frozen=True, slots=True)
class Home:
    """One athlete folder of a roster: its path, its name as shown, and why it cannot be used, if so."""

    path: Path
    name: str
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Homes:
    """Every athlete folder of a roster in order of name, and a sentence on each place that was left alone."""

    folder: Path
    homes: tuple[Home, ...]
    left_alone: tuple[str, ...]


def find_homes(folder: Path) -> Homes:
    """Every folder with an athlete.toml one or two levels below `folder`.

    Hidden folders and links are left alone; nothing is looked for inside an athlete folder. A folder whose athlete.toml is
    faulty, or leads to files of another athlete, is found with its fault. Raises UsageError where there is none at all, or
    where `folder` itself is an athlete's.
    """
    if not folder.is_dir():
        raise UsageError(f"expected a folder of athlete folders, found none at {folder}.", hint="Check the path.")
    if (folder / NAME).is_file():
        raise UsageError(
            f"expected a folder of athlete folders, but {folder} is an athlete folder itself.",
            hint=f"Review it with `steadyband week {folder}`, or name the folder above it.",
        )
    alone: list[str] = []
    paths = list(_below(folder, DEPTH, alone))
    if not paths:
        raise UsageError(
            f"expected folders with an {NAME} in {folder} or one level deeper, found none.",
            hint=f"`steadyband init {folder / 'NAME'}` writes a starter folder.",
        )
    shown = [Home(path, plain(path.relative_to(folder).as_posix())) for path in paths]
    return Homes(folder, _checked(shown), tuple(alone))


def _below(folder: Path, levels: int, alone: list[str]) -> Iterator[Path]:
    try:
        inside = sorted(item for item in folder.iterdir() if not item.name.startswith("."))
        folders = [item for item in inside if item.is_dir()]
    except OSError as fault:
        alone.append(f"{plain(str(folder))} cannot be looked into ({fault.strerror}).")
        return
    for path in folders:
        if path.is_symlink():
            alone.append(f"{plain(str(path))} is a link; only folders that lie here are looked at.")
        elif _is_home(path):
            yield path
        elif levels > 1:
            yield from _below(path, levels - 1, alone)


def _is_home(path: Path) -> bool:
    try:
        return (path / NAME).is_file()
    except OSError:
        return True


Led = Mapping[str, Path]


@dataclass(frozen=True, slots=True)
class _Claims:
    """Whose is what: athlete folders, the athletes at or below a folder, those whose athlete.toml leads to a folder."""

    own: Mapping[Path, Home]
    below: dict[Path, list[Home]]
    led: dict[Path, list[Home]]


def _checked(homes: Iterable[Home]) -> tuple[Home, ...]:
    read = [(home, *_led(home)) for home in homes]
    own = {real_path(home.path): home for home, _, _ in read}
    claims = _Claims(own, {path: [own[path]] for path in own}, {})
    for path, home in own.items():
        for parent in path.parents:
            claims.below.setdefault(parent, []).append(home)
    for home, led, _ in read:
        for place in {*led.values()}:
            claims.led.setdefault(place, []).append(home)
    return tuple(
        Home(home.path, home.name, fault or next(_crossings(home, led, claims), "")) for home, led, fault in read
    )


def _led(home: Home) -> tuple[Led, str]:
    """(where athlete.toml leads, its fault)."""
    try:
        athlete = read_athlete(home.path / NAME)
    except SteadybandError as refused:
        return {}, str(refused)
    return {name: real_path(getattr(athlete, name)) for name in SETTINGS}, ""


def _crossings(home: Home, led: Led, claims: _Claims) -> Iterator[str]:
    """A sentence on each of the folder's paths that lies in another athlete's, holds another's, or is another's too."""
    for setting, place in led.items():
        around = next((claims.own[part] for part in (place, *place.parents) if part in claims.own), None)
        if around is home:
            continue
        inside = claims.below.get(place, []) if setting != "reports" else []
        for other in (around, *inside, *claims.led[place]):
            if other is not None and other is not home:
                yield (
                    f"{plain(str(home.path / NAME))}, {setting}: leads to {plain(str(place))}, where files of {other.name} "
                    "belong; nothing of one athlete may reach another's page. Give each athlete a folder of its own."
                )
