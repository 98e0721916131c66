"""The same session in several files, and one session split over two: told from outlines alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import takewhile

import numpy as np
from numpy.typing import NDArray

from steadyband.athlete.outline import MINUTE_S, Outline, Place
from steadyband.ground.settings import CopySettings
from steadyband.recording.formats import FORMATS

TRACK_MINUTES = 5
LOAD_MINUTES = 10
LONGEST_S = 14 * 86400.0
"""No session lasts longer."""
EARTH_M_PER_DEG = 111_195.0


@dataclass(frozen=True)
class Candidate:
    """One session as far as it matters here; `parts` are its places in the list it came from."""

    parts: tuple[int, ...]
    file: str
    group: str
    sport: str
    intent: str
    start_s: float
    end_s: float
    load_outline: Callable[[], Outline]
    damaged: bool = False

    @cached_property
    def outline(self) -> Outline:
        """Its outline, loaded when first asked for."""
        return self.load_outline()

    @property
    def length_s(self) -> float:
        """From its first to its last record."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A session that another file holds too."""

    dropped: Candidate
    kept: Candidate


def joined(candidates: Sequence[Candidate], limits: CopySettings) -> list[Candidate]:
    """Candidates with parts of one session put together: same sport, intent and kind of file, a short break between."""
    found: list[Candidate] = []
    for item in sorted(candidates, key=lambda c: (c.start_s, c.end_s, c.file)):
        before = next((c for c in reversed(found[-4:]) if _continues(c, item, limits)), None)
        if before is None:
            found.append(item)
        else:
            found[found.index(before)] = _together(before, item)
    return found


def _continues(before: Candidate, after: Candidate, limits: CopySettings) -> bool:
    gap = after.start_s - before.end_s
    fits = 0 <= gap <= limits.join_s and before.group != after.group
    alike = (before.sport, before.intent) == (after.sport, after.intent) and before.sport != "unknown"
    if not (fits and alike and before.intent != "test"):
        return False
    a, b = before.outline, after.outline
    if a.format != b.format or ("power_w" in a.channels) != ("power_w" in b.channels):
        return False
    return a.ends_at is not None and b.starts_at is not None and distance_m(a.ends_at, b.starts_at) <= limits.join_m


def _together(before: Candidate, after: Candidate) -> Candidate:
    return Candidate(
        parts=(*before.parts, *after.parts),
        file=f"{before.file} + {after.file}",
        group=before.group,
        sport=before.sport,
        intent=before.intent,
        start_s=before.start_s,
        end_s=after.end_s,
        load_outline=lambda: _end_to_end(before.outline, after.outline),
        damaged=before.damaged or after.damaged,
    )


def _end_to_end(a: Outline, b: Outline) -> Outline:
    last = max(a.first_minute + len(a.lat_deg), b.first_minute + len(b.lat_deg))

    def laid(name: str) -> NDArray[np.float32]:
        values = np.full(last - a.first_minute, np.nan, np.float32)
        for part in (b, a):
            column = getattr(part, name)
            at = part.first_minute - a.first_minute
            values[at : at + len(column)] = np.where(np.isnan(column), values[at : at + len(column)], column)
        return values

    return Outline(
        format=a.format,
        start_s=a.start_s,
        end_s=b.end_s,
        records=a.records + b.records,
        channels=tuple(dict.fromkeys((*a.channels, *b.channels))),
        starts_at=a.starts_at,
        ends_at=b.ends_at,
        first_minute=a.first_minute,
        lat_deg=laid("lat_deg"),
        lon_deg=laid("lon_deg"),
        heart_rate_bpm=laid("heart_rate_bpm"),
        power_w=laid("power_w"),
        speed_mps=laid("speed_mps"),
    )


def without_copies(candidates: Sequence[Candidate], limits: CopySettings) -> tuple[list[Candidate], list[LeftOut]]:
    """(one candidate of each session in time order, those left out).

    Kept is the much longer one; else the one with power; else FIT before GPX; else the one with more channels; else the
    longer; else one that is not damaged; else the one with more records, then the first by name.
    """
    kept: list[Candidate] = []
    dropped: list[LeftOut] = []
    for item in sorted(candidates, key=lambda c: (c.start_s, c.end_s, c.file)):
        copies = [other for other in _near(kept, item) if is_same(item, other, limits)]
        better = next((other for other in copies if _rank(other, item, limits) <= _rank(item, other, limits)), None)
        if better is not None:
            dropped.append(LeftOut(item, better))
            continue
        if copies:
            kept = [other for other in kept if other not in copies]
            dropped = [LeftOut(out.dropped, item if out.kept in copies else out.kept) for out in dropped]
            dropped += [LeftOut(other, item) for other in copies]
        kept.append(item)
    return sorted(kept, key=lambda c: (c.start_s, c.file)), dropped


def _near(kept: Sequence[Candidate], item: Candidate) -> Iterable[Candidate]:
    """Those of `kept`, in order of their start, that may still last when `item` starts."""
    recent = takewhile(lambda other: other.start_s > item.start_s - LONGEST_S, reversed(kept))
    return (other for other in recent if other.end_s > item.start_s)


def _rank(item: Candidate, other: Candidate, limits: CopySettings) -> tuple[object, ...]:
    """Sorts the one to keep first."""
    outline = item.outline
    return (
        item.length_s < limits.much_longer * other.length_s,
        "power_w" not in outline.channels,
        list(FORMATS).index(outline.format),
        -len(outline.channels),
        -round(item.length_s / MINUTE_S),
        item.damaged,
        -outline.records,
        item.file,
    )


def is_same(a: Candidate, b: Candidate, limits: CopySettings) -> bool:
    """True where two files hold the same session: they overlap in time, and their tracks or else their loads are alike."""
    if a.group == b.group or ("unknown" not in (a.sport, b.sport) and a.sport != b.sport):
        return False
    overlap = min(a.end_s, b.end_s) - max(a.start_s, b.start_s)
    if overlap <= 0 or overlap < limits.overlap * min(a.length_s, b.length_s):
        return False
    alike = _tracks_alike(a.outline, b.outline, limits)
    if alike is None:
        alike = _loads_alike(a.outline, b.outline, limits)
    if alike is None:
        return abs(a.start_s - b.start_s) <= limits.moment_s and abs(a.end_s - b.end_s) <= limits.moment_s
    return alike


def _shared(a: Outline, b: Outline, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A column of both over the minutes that both have."""
    first = max(a.first_minute, b.first_minute)
    x, y = (getattr(part, name)[first - part.first_minute :].astype(np.float64) for part in (a, b))
    count = min(len(x), len(y))
    return x[:count], y[:count]


def _tracks_alike(a: Outline, b: Outline, limits: CopySettings) -> bool | None:
    lat_a, lat_b = _shared(a, b, "lat_deg")
    lon_a, lon_b = _shared(a, b, "lon_deg")
    away = EARTH_M_PER_DEG * np.hypot(lat_a - lat_b, (lon_a - lon_b) * np.cos(np.radians(lat_a)))
    known = away[np.isfinite(away)]
    return None if len(known) < TRACK_MINUTES else bool(np.median(known) <= limits.track_m)


def _loads_alike(a: Outline, b: Outline, limits: CopySettings) -> bool | None:
    """By the first channel that both carry long enough."""
    for name in ("power_w", "heart_rate_bpm", "speed_mps"):
        x, y = _shared(a, b, name)
        known = np.isfinite(x) & np.isfinite(y)
        if np.count_nonzero(known) < LOAD_MINUTES:
            continue
        apart = float(np.median(np.abs(x[known] - y[known])))
        middle = float(np.median(y[known]))
        return apart <= (limits.heart_bpm if name == "heart_rate_bpm" else limits.load_share * middle)
    return None


def distance_m(a: Place, b: Place) -> float:
    """Distance of two near places on a sphere, flat between them [m]."""
    east = (a[1] - b[1]) * math.cos(math.radians((a[0] + b[0]) / 2))
    return EARTH_M_PER_DEG * math.hypot(a[0] - b[0], east)
