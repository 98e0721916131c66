"""The repeats of a hard session: efforts above the ceiling with easing between them (METHOD 7.1)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import HEAVY, SEVERE, Repeat, Repeats
from steadyband.ground.settings import GuessSettings

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Effort:
    """A run of seconds above the ceiling by 31-s load."""

    start_s: int
    length_s: int
    mean: float

    @property
    def end_s(self) -> int:
        """The second after its last."""
        return self.start_s + self.length_s


def efforts(ribbon: NDArray[np.uint8], band_load: FloatArray, dip_s: int) -> list[Effort]:
    """Runs of heavy or severe seconds of a ribbon [n], dips of up to `dip_s` seconds taken in."""
    above = np.isin(ribbon, (HEAVY, SEVERE))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], above.astype(np.int8), [0]))))
    spans = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    joined: list[tuple[int, int]] = []
    for start, end in spans:
        if joined and start - joined[-1][1] <= dip_s:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return [Effort(a, b - a, _mean_known(band_load[a:b])) for a, b in joined]


def _mean_known(load: FloatArray) -> float:
    """The mean of what is known; NaN where nothing is, as in a copy without heart rates."""
    known = load[np.isfinite(load)]
    return float(known.mean()) if len(known) else float("nan")


def repeats(
    ribbon: NDArray[np.uint8],
    loads: tuple[FloatArray, FloatArray],
    heart_rate: FloatArray,
    limits: GuessSettings,
    window_s: int,
) -> Repeats | None:
    """The repeats of a session, None where no effort above its ceiling was long enough (METHOD 7.1).

    `ribbon` [n] codes by band load; `loads` the load of each second and the band load [n, W, m/s or bpm]; `heart_rate` [n, bpm];
    `window_s` the length of the mean behind the band load. Where an effort begins and ends is read half way between its own
    load and the load beside it, where a centred mean of a step has the step. Of efforts of unlike length those near the median
    length are the repeats, if they are at least half of all; otherwise all are.
    """
    load, band_load = loads
    found = [item for item in efforts(ribbon, band_load, limits.dip_s) if item.length_s >= limits.repeat_min_s]
    if not found:
        return None
    spans = _placed(load, band_load, found, window_s)
    chosen = _alike(spans, limits.alike_length)
    told = tuple(
        _repeat(load, heart_rate, span, after) for span, after in zip(chosen, [*chosen[1:], None], strict=True)
    )
    return _summed(told, load, len(spans) - len(chosen))


def _placed(load: FloatArray, band_load: FloatArray, found: Sequence[Effort], window_s: int) -> list[tuple[int, int]]:
    """Start and end of each effort to the second; none reaches into its neighbours."""
    spans = []
    outer = [0, *(item.end_s for item in found)], [*(item.start_s for item in found), len(load)]
    for number, item in enumerate(found):
        quarter = item.length_s // 4
        inner = float(np.nanmedian(load[item.start_s + quarter : item.end_s - quarter]))
        before = load[max(outer[0][number], item.start_s - 2 * window_s) : max(0, item.start_s - window_s // 2)]
        after = load[item.end_s + window_s // 2 : min(outer[1][number + 1], item.end_s + 2 * window_s)]
        start = _crossing(band_load, item.start_s, (inner, before), window_s)
        end = _crossing(band_load, item.end_s, (inner, after), window_s)
        low, high = outer[0][number], outer[1][number + 1]
        spans.append((max(low, start), min(high, end)) if start < end else (item.start_s, item.end_s))
    return spans


def _crossing(band_load: FloatArray, near: int, levels: tuple[float, FloatArray], window_s: int) -> int:
    """The second nearest to `near` in value at which the band load stands half way between the effort and what lies beside it."""
    inner, beside = levels
    known = beside[~np.isnan(beside)]
    if not len(known) or np.median(known) >= inner:
        return near
    half = (inner + float(np.median(known))) / 2
    first = max(0, near - window_s)
    off = np.abs(band_load[first : near + window_s] - half)
    return first + int(np.nanargmin(off)) if np.isfinite(off).any() else near


def _alike(spans: Sequence[tuple[int, int]], within: float) -> list[tuple[int, int]]:
    lengths = np.array([end - start for start, end in spans], dtype=np.float64)
    alike = np.abs(lengths / np.median(lengths) - 1) <= within
    if np.count_nonzero(alike) < max(2, len(spans) / 2):
        return list(spans)
    return [span for span, keep in zip(spans, alike, strict=True) if keep]


def _repeat(load: FloatArray, heart_rate: FloatArray, span: tuple[int, int], after: tuple[int, int] | None) -> Repeat:
    start, end = span
    eased = load[end : after[0]] if after else None
    return Repeat(
        start_s=start,
        length_s=end - start,
        mean=float(np.nanmean(load[start:end])),
        mean_hr=_mean(heart_rate[start:end]),
        recovery_s=None if eased is None else len(eased),
        recovery_mean=None if eased is None else _mean(eased),
    )


def _mean(values: FloatArray) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else None


def _summed(told: tuple[Repeat, ...], load: FloatArray, others: int) -> Repeats:
    lengths = [item.length_s for item in told]
    mean = float(np.nanmean(np.concatenate([load[item.start_s : item.start_s + item.length_s] for item in told])))
    means = np.array([item.mean for item in told])
    eased = [item.recovery_mean for item in told if item.recovery_mean is not None]
    between = [after.start_s - before.start_s - before.length_s for before, after in pairwise(told)]
    several = len(told) > 1
    return Repeats(
        number=len(told),
        others=others,
        length_s=round(float(np.median(lengths))),
        shortest_s=min(lengths),
        longest_s=max(lengths),
        mean=mean,
        spread=float(np.max(np.abs(means / mean - 1))) if several else None,
        change=float(means[-1] / means[0] - 1) if several else None,
        recovery_s=round(float(np.median(between))) if several else None,
        recovery_mean=float(np.mean(eased)) if eased else None,
        efforts=told,
    )
