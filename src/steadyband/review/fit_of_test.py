"""Does the test still fit? Heart rate in recent steady stretches against the heart rates of the test (METHOD 6)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np

from steadyband.audit.measure.steady_stretches import SteadyStretch
from steadyband.audit.model import Audit
from steadyband.ground.settings import BlockSettings
from steadyband.ground.units import temperature_text

Place = Literal["indoors", "outdoors"]
Fit = Literal["fits", "fitter than the test", "tired, hot or ill", "cannot tell"]

INDOOR_WORDS = ("indoor", "virtual", "treadmill", "trainer", "spin")
T_95 = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
    2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip
"""Two-sided 95 % quantiles of Student's t for 1 to 30 degrees of freedom (NIST/SEMATECH e-Handbook 1.3.6.7.2, from memory)."""
NORMAL_95 = 1.960


@dataclass(frozen=True, slots=True)
class SessionShift:
    """One session: the mean shift of its stretches [bpm], where it was done, and its mean temperature where known."""

    shift: float
    stretches: int
    place: Place
    temperature_c: float | None
    day: date | None = None


@dataclass(frozen=True, slots=True)
class ShiftInterval:
    """Mean shift over sessions of one place [bpm] with its 95 % interval; `hot` counts the hot sessions among them."""

    place: str
    sessions: int
    stretches: int
    mean: float
    low: float
    high: float
    hot: int
    known_temperature: int
    limits: BlockSettings = field(repr=False)

    @property
    def is_wide(self) -> bool:
        """True where the interval is too wide to tell anything."""
        return not (self.high - self.low) / 2 <= self.limits.fit_wide_bpm

    @property
    def says(self) -> Fit:
        """What the interval alone says; a mean shift of a beat or two is none."""
        if self.low > 0 and self.mean >= self.limits.fit_same_bpm:
            return "tired, hot or ill"
        if self.high < 0 and self.mean <= -self.limits.fit_same_bpm:
            return "fitter than the test"
        return "cannot tell" if self.is_wide else "fits"


@dataclass(frozen=True, slots=True)
class TestFit:
    """Whether the test in force of a sport still fits, with the reason and the intervals behind it."""

    __test__ = False

    sport: str
    fit: Fit
    reason: str
    intervals: tuple[ShiftInterval, ...]


def place_of(audit: Audit) -> Place:
    """Indoors where the recording says so, outdoors otherwise."""
    words = f"{audit.info.sub_sport or ''} {audit.info.name or ''}".casefold()
    return "indoors" if any(word in words for word in INDOOR_WORDS) else "outdoors"


def session_shift(audit: Audit, stretches: Sequence[SteadyStretch]) -> SessionShift | None:
    """The mean shift of a session's stretches, None without one."""
    if not stretches:
        return None
    mean = float(np.mean([item.shift for item in stretches]))
    return SessionShift(mean, len(stretches), place_of(audit), audit.temperature_c, audit.info.local_start.date())


def t_95(freedom: int) -> float:
    """Two-sided 95 % quantile of Student's t; over 30 degrees of freedom by an expansion about the normal one."""
    if freedom <= len(T_95):
        return T_95[freedom - 1]
    z, n = NORMAL_95, freedom
    first, second = (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / n + second / n**2  # Abramowitz & Stegun 26.7.5, from memory


def shift_interval(place: str, shifts: Sequence[SessionShift], limits: BlockSettings) -> ShiftInterval:
    """Mean shift of at least two sessions and its 95 % interval [bpm] (METHOD 6).

    The test is itself one day with the scatter of any other: half width = t(n - 1) s sqrt(1 / n + 1).
    """
    values = np.array([item.shift for item in shifts])
    count = len(values)
    half = t_95(count - 1) * float(values.std(ddof=1)) * math.sqrt(1 / count + 1)
    known = [item.temperature_c for item in shifts if item.temperature_c is not None]
    hot = sum(value >= limits.hot_c for value in known)
    mean, stretches = float(values.mean()), sum(item.stretches for item in shifts)
    return ShiftInterval(place, count, stretches, mean, mean - half, mean + half, hot, len(known), limits)


def judge_fit(sport: str, shifts: Sequence[SessionShift], limits: BlockSettings) -> TestFit:
    """Whether a test fits, from the shifts of the recent sessions judged by it; indoors and outdoors apart.

    Hot sessions are left out where enough cooler ones (or ones without temperature) remain, and told beside them.
    """
    groups = {place: [item for item in shifts if item.place == place] for place in ("indoors", "outdoors")}
    intervals = tuple(
        shift_interval(place, _cooler(group, limits), limits)
        for place, group in groups.items()
        if len(group) >= limits.fit_sessions
    )
    if not intervals:
        return TestFit(sport, "cannot tell", _too_few(groups, limits), ())
    said = {item.says for item in intervals} - {"cannot tell"}
    heat = _heat(shifts, intervals, limits)
    if not said:
        return TestFit(sport, "cannot tell", f"the sessions scatter too much: {_named(intervals)}{heat}", intervals)
    if len(said) > 1:
        return TestFit(sport, "cannot tell", f"indoors and outdoors disagree: {_named(intervals)}{heat}", intervals)
    fit = said.pop()
    return TestFit(
        sport, fit, f"{_named(item for item in intervals if item.says == fit)}{_FURTHER[fit]}{heat}", intervals
    )


_FURTHER: dict[Fit, str] = {
    "fits": "",
    "fitter than the test": "; a lower heart rate at the same load is fitness most of the time, deep tiredness now and then",
    "tired, hot or ill": "",
    "cannot tell": "",
}


def is_hot(item: SessionShift, limits: BlockSettings) -> bool:
    """True where the session's mean temperature is known and hot."""
    return item.temperature_c is not None and item.temperature_c >= limits.hot_c


def _cooler(group: Sequence[SessionShift], limits: BlockSettings) -> Sequence[SessionShift]:
    cooler = [item for item in group if not is_hot(item, limits)]
    return cooler if len(cooler) >= limits.fit_sessions else group


def _heat(shifts: Sequence[SessionShift], intervals: Sequence[ShiftInterval], limits: BlockSettings) -> str:
    """What temperature adds: hot sessions left out, hot sessions that could not be, or no temperature at all."""
    if any(item.hot for item in intervals):
        return "; hot days are among them, and too few cooler ones to tell heat from tiredness"
    hot = [item for item in shifts if is_hot(item, limits)]
    if hot:
        count = "1 hot day" if len(hot) == 1 else f"{len(hot)} hot days"
        mean = np.mean([item.shift for item in hot])
        return f"; {count} left out{_which(hot, limits.hot_named)}, with heart rate {mean:+.0f} bpm: that is heat, not the test"
    if any(item.says == "tired, hot or ill" for item in intervals):
        known = any(item.known_temperature for item in intervals)
        return (
            ", and none of them on a hot day"
            if known
            else "; the files carry no temperature, so heat cannot be told from tiredness"
        )
    return ""


def _which(hot: Sequence[SessionShift], most: int) -> str:
    told = [f"{item.day:%-d %B}, {temperature_text(item.temperature_c)}" for item in hot if item.day is not None]
    more = "; ..." if len(told) > most else ""
    return f" ({'; '.join(told[:most])}{more})" if told else ""


def _too_few(groups: dict[str, list[SessionShift]], limits: BlockSettings) -> str:
    told = [f"{len(group)} {place}" for place, group in groups.items() if group]
    counts = f"only {' and '.join(told)}" if told else "none"
    minutes = limits.stretch_s // 60
    return (
        f"of the last {limits.fit_days} days' sessions {counts} with a steady stretch of {minutes} min and heart rate; "
        f"{limits.fit_sessions} of one kind are needed"
    )


def _named(intervals: Iterable[ShiftInterval]) -> str:
    return "; ".join(interval_text(item) for item in intervals)


def interval_text(item: ShiftInterval) -> str:
    """The shift of one place in words, with its interval."""
    beats = round(item.mean)
    shift = f"{abs(beats)} bpm {'above' if beats > 0 else 'below'}" if beats else "as in"
    low, high = (f"{round(value):+d}".replace("-", "−") if round(value) else "0" for value in (item.low, item.high))
    return f"heart rate {item.place} {shift} the test at the same load (95 % interval {low} to {high}, {item.sessions} sessions)"
