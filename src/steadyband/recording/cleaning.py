"""Faults of real devices taken out of one-second rows, each counted; every rule can be switched off (METHOD 2).

A rule only acts on what a body, a bike or a hill cannot do. Surges are never touched: they last 5 s or more.
"""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray

from steadyband.ground.settings import CleaningSettings, Settings
from steadyband.recording.deriving import with_derived
from steadyband.recording.grid import active_rows, to_rows
from steadyband.recording.model import BoolArray, FloatArray, Repair, Rows, SessionRecords
from steadyband.recording.track import with_sound_track

Found = tuple[FloatArray, int]
STEPS_PER_TURN = {"running": 2.0, "walking": 2.0, "hiking": 2.0}
"""Foot cadence is stored in strides, and a strap locks on to steps (common practice, no source)."""


def prepared_rows(session: SessionRecords, settings: Settings, sport: str | None = None) -> Rows:
    """One-second rows of a session as every audit uses them: impossible tracks and speeds left out, missing speed or
    distance worked out, then cleaned. `sport` is what the session is taken as, its own where none is given."""
    sport = sport or session.sport
    sound, impossible = with_sound_track(session, sport, settings.cleaning)
    completed, derived = with_derived(sound, settings.cleaning, settings.grid.hold_s)
    rows = to_rows(completed, settings.grid)
    return cleaned(dataclasses.replace(rows, repairs=(*impossible, *rows.repairs, *derived)), sport, settings)


def cleaned(rows: Rows, sport: str, settings: Settings) -> Rows:
    """The rows without device faults; `active` is told anew where power or speed changed (METHOD 2)."""
    rules, repairs = settings.cleaning, []
    channels = dict(rows.channels)
    for what, channel, values, count in _found(rows, sport, rules):
        channels[channel] = values
        repairs.append(Repair(what, channel, count))
    if not repairs:
        return rows
    return dataclasses.replace(
        rows,
        channels=channels,
        active=active_rows(channels, rows.absent, rows.stretch, settings.grid),
        repairs=(*rows.repairs, *repairs),
    )


def _found(rows: Rows, sport: str, rules: CleaningSettings) -> list[tuple[str, str, FloatArray, int]]:
    """(what, channel, new values, seconds) of every rule that found something; rules of a channel follow each other."""
    power, heart, altitude = (rows.channels[name] for name in ("power_w", "heart_rate_bpm", "altitude_m"))
    cadence = rows.channels["cadence_rpm"]
    found: list[tuple[str, str, FloatArray, int]] = []

    def note(what: str, channel: str, result: Found, before: FloatArray) -> FloatArray:
        values, count = result
        if count:
            found.append((what, channel, values, count))
        return values if count else before

    if rules.power_spikes:
        power = note("spike", "power_w", without_spikes(power, rows.stretch, rules), power)
    if rules.power_dropouts:
        power = note("dropout", "power_w", without_dropouts(power, cadence, rows.stretch, rules), power)
    if rules.frozen_power:
        power = note("frozen", "power_w", without_frozen_power(power, cadence, rows.stretch, rules), power)
    if rules.frozen_heart_rate:
        heart = note("frozen", "heart_rate_bpm", without_frozen(heart, rows.active, rules.frozen_heart_rate_s), heart)
    if rules.heart_rate_on_cadence:
        beats = cadence * STEPS_PER_TURN.get(sport, 1.0)
        heart = note("locked on cadence", "heart_rate_bpm", without_lock(heart, beats, rows.stretch, rules), heart)
    if rules.altitude_leaps:
        note("leap", "altitude_m", without_leaps(altitude, rows.stretch, rules), altitude)
    return found


def without_spikes(power_w: FloatArray, stretch: NDArray[np.int32], rules: CleaningSettings) -> Found:
    """(power with isolated peaks replaced by the second before them, how many seconds).

    A peak lasts up to `spike_max_s` and every second of it is at least `spike_times` the highest of the five seconds on
    either side and `spike_over_w` above it; both sides must be measured.
    """
    values, count = power_w.copy(), 0
    candidates = np.flatnonzero(np.nan_to_num(power_w) >= rules.spike_over_w)
    for start, end in _groups(candidates):
        sides = _sides(power_w, stretch, start, end, rules.around_s)
        if sides is None or end - start > rules.spike_max_s:
            continue
        level = max(float(side.max()) for side in sides)
        if power_w[start:end].min() >= max(rules.spike_times * level, level + rules.spike_over_w):
            values[start:end] = power_w[start - 1]
            count += end - start
    return values, count


def without_dropouts(
    power_w: FloatArray, cadence_rpm: FloatArray, stretch: NDArray[np.int32], rules: CleaningSettings
) -> Found:
    """(power with isolated zeros amid even pedalling replaced by the second before them, how many seconds).

    Even: in the five seconds on either side power stays within `steady_share` of its median, and cadence goes on through
    the zeros, never further than `steady_share` from its own.
    """
    values, count = power_w.copy(), 0
    for start, end in _groups(np.flatnonzero(power_w == 0)):
        sides = _sides(power_w, stretch, start, end, rules.around_s) if end - start <= rules.dropout_max_s else None
        if sides is None:
            continue
        wide = slice(start - rules.around_s, end + rules.around_s)
        if _even(np.concatenate(sides), rules) and _even(cadence_rpm[wide], rules):
            values[start:end] = power_w[start - 1]
            count += end - start
    return values, count


def without_frozen_power(
    power_w: FloatArray, cadence_rpm: FloatArray, stretch: NDArray[np.int32], rules: CleaningSettings
) -> Found:
    """(power made missing where one value above zero repeats for `frozen_power_s` with the cranks at rest, seconds)."""
    still = (np.nan_to_num(power_w) > 0) & (cadence_rpm == 0)
    if np.count_nonzero(still) > rules.still_share_max * np.count_nonzero(np.nan_to_num(power_w) > 0):
        return power_w, 0  # the cadence sensor is dead, not the meter
    runs = _equal_runs(power_w, still, rules.frozen_power_s, stretch)
    return _missing(power_w, runs)


def without_frozen(values: FloatArray, active: BoolArray, least_s: int) -> Found:
    """(values made missing where one repeats through `least_s` active seconds, how many seconds)."""
    known = ~np.isnan(values)
    return _missing(values, _equal_runs(values, known & active, least_s))


def without_lock(
    heart_rate_bpm: FloatArray, beats_rpm: FloatArray, stretch: NDArray[np.int32], rules: CleaningSettings
) -> Found:
    """(heart rate made missing where it follows the cadence, how many seconds).

    Over every window of `lock_window_s` of a run of `lock_min_s` or more: the two differ by at most `lock_bpm` in the
    mean, cadence itself moves (SD of at least `lock_cadence_sd`) and heart rate moves with it (correlation of at least
    `lock_correlation`). Two that merely happen to be alike do not move together.
    """
    window = rules.lock_window_s
    known = ~np.isnan(heart_rate_bpm) & ~np.isnan(beats_rpm) & (stretch >= 0)
    if np.count_nonzero(known) < rules.lock_min_s:
        return heart_rate_bpm, 0
    full, apart, spread, tie = _windows(
        np.where(known, heart_rate_bpm, 0), np.where(known, beats_rpm, 0), known, window
    )
    alike = full & (apart <= rules.lock_bpm) & (spread >= rules.lock_cadence_sd) & (tie >= rules.lock_correlation)
    covered = _covered(alike, window, len(known))
    runs = [(start, end) for start, end in _runs(covered & known) if end - start >= rules.lock_min_s]
    return _missing(heart_rate_bpm, runs)


def _windows(
    x: FloatArray, y: FloatArray, known: BoolArray, window: int
) -> tuple[BoolArray, FloatArray, FloatArray, FloatArray]:
    """Over every window: all known, mean distance, SD of y, correlation of x and y."""
    mean_x, mean_y = _sliding(x, window), _sliding(y, window)
    var_x = np.maximum(_sliding(x * x, window) - mean_x**2, 0)
    var_y = np.maximum(_sliding(y * y, window) - mean_y**2, 0)
    both = np.sqrt(var_x * var_y)
    tie = np.divide(_sliding(x * y, window) - mean_x * mean_y, both, out=np.zeros(len(both)), where=both > 1e-6)
    full = _sliding(known.astype(np.float64), window) > 1 - 0.5 / window
    return full, _sliding(np.abs(x - y), window), np.sqrt(var_y), tie


def _sliding(values: FloatArray, window: int) -> FloatArray:
    total = np.concatenate(([0.0], np.cumsum(values)))
    means: FloatArray = (total[window:] - total[:-window]) / window
    return means


def _covered(windows: BoolArray, window: int, count: int) -> BoolArray:
    """Seconds inside any of the windows marked by their first second."""
    change = np.zeros(count + 1, np.int64)
    starts = np.flatnonzero(windows)
    np.add.at(change, starts, 1)
    np.add.at(change, starts + window, -1)
    return np.cumsum(change[:-1]) > 0


def without_leaps(altitude_m: FloatArray, stretch: NDArray[np.int32], rules: CleaningSettings) -> Found:
    """(altitude with sudden steps taken out, how many steps): all that follows is moved by the step.

    A step is at least `leap_m` and faster than `leap_mps` since the value last changed, within one stretch.
    """
    known = np.flatnonzero(~np.isnan(altitude_m))
    if len(known) < 2:
        return altitude_m, 0
    values = altitude_m[known]
    fresh = np.concatenate(([0], np.flatnonzero(np.diff(values) != 0) + 1))
    rows, heights = known[fresh], values[fresh]
    step, seconds = np.diff(heights), np.diff(rows)
    whole = stretch[rows[1:]] == stretch[rows[:-1]]
    leap = whole & (np.abs(step) >= rules.leap_m) & (np.abs(step) > rules.leap_mps * seconds)
    if not leap.any():
        return altitude_m, 0
    moved = np.zeros(len(altitude_m))
    moved[rows[1:][leap]] = step[leap]
    return altitude_m - np.cumsum(moved), int(np.count_nonzero(leap))


def _runs(mask: BoolArray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _groups(rows: NDArray[np.intp]) -> list[tuple[int, int]]:
    """Rows that follow each other as (first, one past the last)."""
    if not len(rows):
        return []
    cuts = np.flatnonzero(np.diff(rows) > 1)
    starts, ends = rows[np.concatenate(([0], cuts + 1))], rows[np.concatenate((cuts, [len(rows) - 1]))] + 1
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def _sides(
    values: FloatArray, stretch: NDArray[np.int32], start: int, end: int, around: int
) -> tuple[FloatArray, FloatArray] | None:
    """The seconds before and after a run; None where they are not all measured in the same stretch."""
    low, high = start - around, end + around
    if low < 0 or high > len(values) or stretch[low] < 0 or stretch[low] != stretch[high - 1]:
        return None
    before, after = values[low:start], values[end:high]
    return None if np.isnan(before).any() or np.isnan(after).any() else (before, after)


def _even(values: FloatArray, rules: CleaningSettings) -> bool:
    if np.isnan(values).any():
        return False
    middle = float(np.median(values))
    return middle > 0 and bool(np.all(np.abs(values - middle) <= rules.steady_share * middle))


def _equal_runs(
    values: FloatArray, mask: BoolArray, least_s: int, stretch: NDArray[np.int32] | None = None
) -> list[tuple[int, int]]:
    """Runs of one value within `mask` (and one stretch) of at least `least_s` seconds."""
    same = (values[1:] == values[:-1]) & mask[1:] & mask[:-1]
    if stretch is not None:
        same &= stretch[1:] == stretch[:-1]
    return [(start, end + 1) for start, end in _runs(same) if end + 1 - start >= least_s]


def _missing(values: FloatArray, runs: list[tuple[int, int]]) -> Found:
    if not runs:
        return values, 0
    made = values.copy()
    for start, end in runs:
        made[start:end] = np.nan
    return made, sum(end - start for start, end in runs)
