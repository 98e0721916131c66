"""How often the verdicts on sessions are wrong on ordinary, noisy, real use. Prints; passes no judgement.

    python benchmarks/verdict_sessions.py [--quick] [--only surges drift whole heart foot hill price] [--seed 7]

Rides are simulated around a ceiling of 176 W under three tests: a wide band (floor 137, target top 162), a usual one (150, 166) and
a narrow one (164, 170). Scatter is second to second with lag-1 correlation 0.6, or that of the calm minutes of two real rides where
../shared/recordings (or STEADYBAND_RECORDINGS) is there, each minute scaled to the level asked for. Everything is seeded.
"""

# ruff: noqa: T201

from __future__ import annotations

import argparse
import itertools
import math
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from steadyband import read
from steadyband.athlete.folder import open_folder
from steadyband.audit.measure.dose import surge_mean
from steadyband.audit.measure.foot import footing
from steadyband.audit.measure.held import HR_JUDGED_S, drifted
from steadyband.audit.measure.hill import Effort, compared, effort_above
from steadyband.audit.measure.price import price_of_smooth
from steadyband.audit.measure.scatter import calm_scatter
from steadyband.audit.measure.surging import surging
from steadyband.audit.measure.terrain import grade, on_grid, resloped
from steadyband.audit.model import Rider, SessionInfo
from steadyband.audit.session import audit_session
from steadyband.ground.settings import Settings, TerrainSettings
from steadyband.ground.slope import flat_equivalent_speed, running_cost
from steadyband.recording import to_rows
from steadyband.recording.model import CHANNELS, Rows
from steadyband.steptest.choose import Choice
from steadyband.steptest.model import ZoneSet

Floats = NDArray[np.float64]
Rng = np.random.Generator

CEILING = 176.0
DEMO = Path(__file__).resolve().parent.parent / "demo_activities"
TESTS = {"wide": (137.0, 162.0), "usual": (150.0, 166.0), "narrow": (164.0, 170.0)}
MODES = ("1 s", "smart", "5 s", "10 s")
PLANTED = ((5, 333), (8, 290), (12, 250), (20, 216), (30, 200), (45, 200), (60, 187))
"""Seconds and watts of the surges that are planted, ten an hour."""
REAL = ("ride_power_hr_gps_1h18.fit", "ride_power_hr_gps_6h33.fit")


# scatter and ways of recording


def recordings() -> Path:
    """The folder of real device files."""
    here = Path(__file__).resolve().parent.parent.parent
    return Path(os.environ.get("STEADYBAND_RECORDINGS", here / "shared" / "recordings")) / "fit"


def calm_minutes(path: Path) -> Floats:
    """The calmer half of a ride's minutes without a break in pedalling, each over its own mean [m, 60]."""
    power = to_rows(read(path).sessions[0]).channels["power_w"]
    minutes = power[: len(power) // 60 * 60].reshape(-1, 60)
    minutes = minutes[(minutes > 0).all(axis=1) & (np.nan_to_num(minutes).mean(axis=1) > 90)]
    minutes = minutes / minutes.mean(axis=1, keepdims=True)
    scatter = minutes.std(axis=1)
    return np.asarray(minutes[scatter <= np.median(scatter)])


def kinds() -> dict[str, float | Floats]:
    """Kinds of scatter by name: shares of the load, and the calm minutes of real rides."""
    simulated: dict[str, float | Floats] = {f"{share:.0%}": share for share in (0.05, 0.10, 0.15, 0.20, 0.25)}
    real = {name[-8:-4]: calm_minutes(recordings() / name) for name in REAL if (recordings() / name).is_file()}
    return {**simulated, **real}


def scatter_of(kind: float | Floats, size: int, rng: Rng) -> Floats:
    """A load of mean 1 that scatters [size]."""
    if isinstance(kind, float):
        noise = lfilter([0.8], [1, -0.6], rng.standard_normal(size + 50))[50:]
        return np.maximum(1 + kind * noise, 0.0)
    return np.concatenate([kind[row] for row in rng.integers(0, len(kind), size // 60 + 1)])[:size]


def recorded(load: Floats, mode: str, rng: Rng) -> Floats:
    """The load as a device keeps it: every second, at random moments 1 to 8 s apart and held, or averaged."""
    if mode == "1 s":
        return load
    if mode == "smart":
        at = np.concatenate(([0], np.cumsum(rng.integers(1, 9, len(load)))))
        at = at[at < len(load)]
        return np.asarray(load[at[np.searchsorted(at, np.arange(len(load)), side="right") - 1]])
    width = int(mode.split()[0])
    return np.repeat(load[: len(load) // width * width].reshape(-1, width).mean(axis=1), width)


def one_stretch(load: Floats) -> NDArray[np.int32]:
    """Stretch numbers of an unbroken recording."""
    return np.zeros(len(load), np.int32)


def smooth(load: Floats) -> Floats:
    """The 11-s mean of an unbroken recording."""
    return surge_mean(load, one_stretch(load))


def is_surging(load: Floats, target_top: float, ceiling: float = CEILING) -> bool:
    """Whether surging is a finding."""
    found = surging(smooth(load), one_stretch(load), np.array([ceiling]), np.array([target_top]))
    return bool(found.raised[0])


def is_drifting(load: Floats, ceiling: float = CEILING) -> bool:
    """Whether zone-3 drift is a finding."""
    return bool(drifted(load, calm_scatter(smooth(load)), np.array([ceiling]))[0])


def steady_level(band: tuple[float, float], rng: Rng) -> float:
    """A mean in the lower three quarters of the band."""
    return float(rng.uniform(band[0], band[0] + 0.75 * (band[1] - band[0])))


# sections


def surges(seed: int, rides: int) -> None:
    """Steady rides flagged, rides with ten surges an hour flagged, by band, scatter and way of recording."""
    print(
        "surges: steady rides of 1.5 h flagged (surging or drift) | with ten surges an hour flagged; by way of recording"
    )
    for name, band in TESTS.items():
        for kind, scatter in kinds().items():
            told = []
            for mode in MODES:
                rng = np.random.default_rng(seed)
                pairs = [_steady_and_surged(band, scatter, mode, rng) for _ in range(rides)]
                told.append("{:4.0%} | {:4.0%}".format(*np.mean(pairs, axis=0)))
            print(
                f"  {name:6s} {kind:>4s}  " + "   ".join(f"{m}: {t}" for m, t in zip(MODES, told, strict=True)),
                flush=True,
            )


def _steady_and_surged(band: tuple[float, float], kind: float | Floats, mode: str, rng: Rng) -> tuple[bool, bool]:
    size, level = 5400, steady_level(band, rng)
    noise = scatter_of(kind, size, rng)
    steady = recorded(level * noise, mode, rng)
    planted = np.full(size, level)
    for number, start in enumerate(rng.choice(np.arange(100, size - 100, 90), 15, replace=False)):
        length, watts = PLANTED[number % len(PLANTED)]
        planted[start : start + length] = watts
    surged = recorded(planted * (1 + 0.8 * (noise - 1)), mode, rng)
    return is_surging(steady, band[1]) or is_drifting(steady), is_surging(surged, band[1])


def drift(seed: int, rides: int) -> None:
    """Ten minutes 5 % above the ceiling found; rides at the target top called zone 3."""
    print("drift: ten minutes 5 % above the ceiling found (drift or surging) | rides at the target top called zone 3")
    for name, band in TESTS.items():
        for kind, scatter in kinds().items():
            told = []
            for mode in MODES:
                rng = np.random.default_rng(seed)
                pairs = [_effort_and_top(band, scatter, mode, rng) for _ in range(rides)]
                told.append("{:4.0%} | {:4.0%}".format(*np.mean(pairs, axis=0)))
            print(
                f"  {name:6s} {kind:>4s}  " + "   ".join(f"{m}: {t}" for m, t in zip(MODES, told, strict=True)),
                flush=True,
            )


def _effort_and_top(band: tuple[float, float], kind: float | Floats, mode: str, rng: Rng) -> tuple[bool, bool]:
    size, start = 5400, int(rng.integers(600, 4200))
    level = np.full(size, steady_level(band, rng))
    level[start : start + 600] = 1.05 * CEILING
    noise = scatter_of(kind, size, rng)
    effort, top = recorded(level * noise, mode, rng), recorded(band[1] * noise, mode, rng)
    return is_drifting(effort) or is_surging(effort, band[1]), is_drifting(top)


def heart(seed: int, rides: int) -> None:
    """Constant load by heart rate alone, drifting by some bpm an hour, called zone 3; a real step up found."""
    print("heart rate alone: 2 h of constant load called zone-3 drift | 15 min of 4 bpm above the ceiling found")
    for name, (floor, top, ceiling) in {"wide": (126.0, 138.0, 146.0), "usual": (130.0, 138.0, 143.0)}.items():
        for rise in (0.0, 4.0, 8.0):
            rng, told = np.random.default_rng(seed), []
            for _ in range(rides):
                minutes = np.arange(7200) / 60
                wander = lfilter([math.sqrt(1 - 0.99**2)], [1, -0.99], rng.standard_normal(7200)) * 1.5
                level = rng.uniform(floor, floor + 0.75 * (top - floor))
                beats = level - 25 * np.exp(-minutes / 1.5) + rise * minutes / 60 + wander
                hard = beats.copy()
                hard[900:1800] = ceiling + 4 + wander[900:1800]
                at = np.array([ceiling])
                told.append([bool(drifted(np.round(one)[:HR_JUDGED_S], 0.0, at)[0]) for one in (beats, hard)])
            shares = np.mean(told, axis=0)
            print(f"  {name:6s} {rise:g} bpm/h: {shares[0]:4.0%} | {shares[1]:4.0%}", flush=True)


def wander(sd: float, size: int, rng: Rng, over_s: float = 40.0) -> Floats:
    """An error that forgets itself exponentially [size]."""
    keep = math.exp(-1 / over_s)
    pushes = rng.standard_normal(size)
    pushes[0] /= math.sqrt(1 - keep * keep)
    return np.asarray(sd * math.sqrt(1 - keep * keep) * lfilter([1.0], [1, -keep], pushes))


def foot(seed: int, runs: int) -> None:
    """Runs at an effort 0.9 km/h below a ceiling of 13 km/h: flagged steady, and with ten surges an hour, by ground and scatter."""
    print("foot: altimeter scatter found, window | steady flagged, old 30 m window | ten surges an hour flagged")
    for metres, wave in itertools.product((0.0, 0.5, 1.0, 2.0, 3.0), (math.inf, 1000.0, 400.0)):
        for jitter, over in ((0.0, 0.0), (0.3, 0.0), (0.3, 5.0)) if wave == math.inf else ((0.3, 5.0),):
            rng, told = np.random.default_rng(seed), []
            for _ in range(runs):
                steady, narrow, ground = _run((metres, jitter, over), False, rng, wave)
                surged = _run((metres, jitter, over), True, rng, wave)[0]
                told.append([ground.altimeter_m, ground.slope_half_m, ground.surges_judged, steady, narrow, surged])
            mean = np.mean(told, axis=0)
            print(
                f"  {'flat' if wave == math.inf else f'a hill each {wave:g} m'}, altimeter {metres:g} m, speed {jitter:g} m/s over {over:g} s: found {mean[0]:.2f} m, +-{mean[1]:.0f} m, surges judged in "
                f"{mean[2]:.0%} | {mean[3]:.0%}, {mean[4]:.0%} | {mean[5]:.0%}",
                flush=True,
            )


def _run(
    errors: tuple[float, float, float], surged: bool, rng: Rng, wave_m: float = math.inf
) -> tuple[bool, bool, Any]:
    """One run; `wave_m` is the length from hill to hill, with grades of up to 6 %, run at an even effort."""
    size, ceiling, top = 3600, 3.6, 3.45
    metres, jitter, over = errors
    speed = 3.35 * (1 + 0.03 * wander(1.0, size, rng, 10.0))
    for number, start in enumerate(rng.choice(np.arange(60, size - 120, 90), 10, replace=False) if surged else ()):
        length, times = ((10, 1.5), (20, 1.3), (30, 1.25), (45, 1.2), (60, 1.17))[number % 5]
        speed[start : start + length] *= times
    height, turn = 0.06 * wave_m / (2 * math.pi) if wave_m < math.inf else 0.0, 2 * math.pi / wave_m
    place = 0.0
    for second in range(size if height else 0):
        speed[second] *= float(running_cost(0.0) / running_cost(0.06 * math.cos(turn * place)))
        place += speed[second]
    along = np.cumsum(speed)
    ground_m = height * np.sin(turn * along)
    altitude = np.round(5 * (ground_m + wander(metres, size, rng))) / 5 if metres else ground_m
    error = wander(jitter, size, rng, over) if over else jitter * rng.standard_normal(size)
    seen = speed + error
    rows = (np.arange(size), along, np.zeros(size), np.zeros(size))
    usual = on_grid(rows, (along, altitude), TerrainSettings())
    ground = footing(altitude, seen, np.ones(size, bool), found=(usual,))
    flagged = []
    for half in (ground.slope_half_m, 30.0):
        course = resloped(usual, half)
        load = flat_equivalent_speed(seen, np.interp(along, np.arange(len(course.slope)), course.slope))
        judged = ground.surges_judged or half == 30.0
        flagged.append((judged and is_surging(load, top, ceiling)) or is_drifting(load, ceiling))
    return flagged[0], flagged[1], ground


def hill(seed: int, pairs: int) -> None:
    """Identical efforts told apart, and surges left away found, by length of the hill, scatter and level."""
    print("same hill: identical efforts told apart, after 1 and 3 | a surge each 100 s left away found, after 1 and 3")
    for seconds in (150, 300, 600, 1200):
        for kind, scatter in kinds().items():
            if kind in ("15%", "25%"):
                continue
            rng = np.random.default_rng(seed)
            calm = calm_scatter(smooth(150 * scatter_of(scatter, 7200, rng)))
            told = [_hills(seconds, scatter, calm, rng) for _ in range(pairs)]
            print(
                f"  {seconds:4d} s {kind:>4s}: {{:4.0%}} {{:4.0%}} | {{:4.0%}} {{:4.0%}}".format(
                    *np.mean(told, axis=0)
                ),
                flush=True,
            )


def _hills(seconds: int, kind: float | Floats, calm: float, rng: Rng) -> tuple[bool, bool, bool, bool]:
    level = rng.choice([160.0, 176.0, 185.0])

    def effort(surged: int) -> Effort:
        load = level * (1 + 0.06 * np.sin(np.arange(seconds) / seconds * 2 * np.pi) + 0.01 * rng.standard_normal())
        for start in rng.integers(0, seconds - 20, surged):
            load[start : start + 20] = 1.3 * max(level, CEILING)
        return effort_above(smooth(load * scatter_of(kind, seconds, rng)), CEILING, calm)

    alike, rough = [effort(0) for _ in range(3)], [effort(max(2, seconds // 100)) for _ in range(3)]
    again, calmer = effort(0), effort(0)
    return (
        compared(again, alike[:1]) != "as_before",
        compared(again, alike) != "as_before",
        compared(calmer, rough[:1]) == "smoother",
        compared(calmer, rough) == "smoother",
    )


def price(seed: int, rides: int) -> None:
    """The stated price of riding smooth and its error, against rides simulated with wind that turns with the road."""
    print("price of smooth: withheld, median true cost, relative error (10 %, 50 %, 90 %), held by the stated error")
    for wind in (0.0, 3.0, 6.0):
        rng = np.random.default_rng(seed)
        found = [_priced(wind, rng) for _ in range(rides)]
        known = np.array([one for one in found if one is not None])
        apart = (known[:, 1] - known[:, 0]) / known[:, 0]
        print(
            f"  wind up to {wind:g} m/s: {rides - len(known)} of {rides}, {np.median(known[:, 0]):.0f} s, "
            f"{' '.join(f'{x:+.0%}' for x in np.quantile(apart, (0.1, 0.5, 0.9)))}, "
            f"{np.mean(np.abs(known[:, 1] - known[:, 0]) <= known[:, 2]):.0%}",
            flush=True,
        )


def _priced(most_wind: float, rng: Rng) -> tuple[float, float, float] | None:
    """True cost, stated cost and stated error of one ride [s]; None where the price is withheld."""
    road = [
        (
            rng.uniform(300, 2500),
            rng.choice([0, 0, 0.005, -0.01, 0.03, 0.05, 0.07, -0.03, -0.05]),
            rng.uniform(0, 2 * np.pi),
        )
        for _ in range(22)
    ]
    ends = np.cumsum([length for length, _, _ in road])
    cda, crr, mass, wind = (
        rng.uniform(0.26, 0.40),
        rng.uniform(0.003, 0.006),
        rng.uniform(65, 95),
        rng.uniform(0, most_wind),
    )
    hard = [(start, start + rng.uniform(80, 500)) for start in rng.uniform(1000, ends[-1] - 1500, rng.integers(4, 16))]
    base = rng.uniform(150, 200)
    noise = scatter_of(0.15, 20_000, rng)

    def power(metre: float, slope: float, second: float, clip: float) -> float:
        if slope <= -0.03:
            return 0.0
        surging_now = any(start <= metre < end for start, end in hard)
        return min(1.7 * base * noise[int(second)], clip) if surging_now else base * noise[int(second)]

    def ridden(clip: float) -> tuple[Floats, float]:
        speed, metre, second, rows, part = 4.0, 0.0, 0.0, [], 0
        while metre < ends[-1] - 1:
            part += metre >= ends[part]
            _, slope, heading = road[part]
            push, air = power(metre, slope, second, clip), speed + wind * math.cos(heading)
            if second == int(second):
                rows.append((metre, speed, push))
            hold = (
                mass * 9.80665 * (math.sin(math.atan(slope)) + crr)
                + 0.6 * cda * air * abs(air)
                + 0.091
                + 0.0087 * speed
            )
            speed = max(0.8, min(speed + 0.5 * (0.976 * push / speed - hold) / mass, 22.0))
            metre, second = metre + 0.5 * speed, second + 0.5
        return np.array(rows), second

    (told, took), (_, smoother) = ridden(math.inf), ridden(1.12 * base)
    metre, speed, watts = told.T
    heights = np.interp(metre, np.r_[0.0, ends], np.r_[0.0, np.cumsum([length * slope for length, slope, _ in road])])
    altitude = 300 + heights + wander(0.5, len(metre), rng)
    rows = _rows(
        {
            "distance_m": metre,
            "speed_mps": speed + 0.1 * rng.standard_normal(len(metre)),
            "power_w": watts,
            "altitude_m": altitude,
        }
    )
    on = np.array([any(start <= place < end for start, end in hard) for place in metre]) & (watts > 0)
    edges = np.flatnonzero(np.diff(np.r_[0, on.astype(int), 0]))
    events = [
        SimpleNamespace(start_s=int(a), length_s=int(b - a), forced=False)
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    rider = Rider(mass - 9 + rng.normal(0, 1.5), 9.0, (50, 34), (11, 32), 2.105, 60.0)
    terrain = TerrainSettings()
    found = price_of_smooth(rows, grade(rows, terrain), SimpleNamespace(events=events), rider, (1.12 * base, terrain))  # type: ignore[arg-type]
    if found is None or found.seconds_lost is None or found.seconds_error is None:
        return None
    return smoother - took, found.seconds_lost, found.seconds_error


def _rows(channels: dict[str, Floats]) -> Rows:
    size = len(next(iter(channels.values())))
    none, all_ = np.zeros(size, bool), np.ones(size, bool)
    full = {name: channels.get(name, np.full(size, np.nan)) for name in CHANNELS}
    absent = frozenset(name for name in CHANNELS if name not in channels)
    return Rows(0, full, absent, all_, none, none, all_, np.zeros(size, np.int32), size, 0, 0)


def whole(seed: int, rides: int) -> None:
    """The same steady and surged rides through the whole audit, by the bike tests of the demo: flagged by any finding, and by surges."""
    print(
        "whole audit, by the demo's bike tests: steady rides with any finding | with too high | ten surges an hour flagged"
    )
    start = datetime(2026, 5, 2, 8, tzinfo=UTC)
    info = SessionInfo("ride.fit", "0" * 64, "cycling", None, start, start, intent_source="sessions.csv")
    for zone_set in (one for one in open_folder(DEMO).zone_sets if one.test.sport == "cycling"):
        for kind, scatter in kinds().items():
            told = []
            for mode in MODES:
                rng = np.random.default_rng(seed)
                pairs = [_audited_pair(zone_set, info, scatter, mode, rng) for _ in range(rides)]
                told.append("{:4.0%} {:4.0%} | {:4.0%}".format(*np.mean(pairs, axis=0)))
            print(
                f"  {zone_set.test.date} {kind:>4s}  "
                + "   ".join(f"{m}: {t}" for m, t in zip(MODES, told, strict=True)),
                flush=True,
            )


def _audited_pair(
    zone_set: ZoneSet, info: SessionInfo, kind: float | Floats, mode: str, rng: Rng
) -> tuple[bool, bool, bool]:
    floor, top, ceiling = zone_set.edges.floor, zone_set.edges.target_top, zone_set.edges.ceiling
    assert floor is not None
    assert ceiling is not None
    size, level = 5400, steady_level((floor, top), rng)
    noise = scatter_of(kind, size, rng)
    planted = np.full(size, level)
    for number, start in enumerate(rng.choice(np.arange(100, size - 100, 90), 15, replace=False)):
        length, watts = PLANTED[number % len(PLANTED)]
        planted[start : start + length] = watts * ceiling / CEILING
    steady = _codes(zone_set, info, recorded(level * noise, mode, rng))
    surged = _codes(zone_set, info, recorded(planted * (1 + 0.8 * (noise - 1)), mode, rng))
    return bool(steady), "too_high" in steady, "surges" in surged


def _codes(zone_set: ZoneSet, info: SessionInfo, load: Floats) -> list[str]:
    """The findings of an audit of rows that carry nothing but this power."""
    size = len(load)
    none, every = np.zeros(size, bool), np.ones(size, bool)
    channels = {name: np.full(size, np.nan) for name in CHANNELS} | {"power_w": load}
    absent = frozenset(CHANNELS) - {"power_w"}
    rows = Rows(
        int(info.start.timestamp()), channels, absent, every, none, none, load > 0, one_stretch(load), size, 0, 0
    )
    found = audit_session(rows, info, Choice(zone_set, 12, "current"), Settings())
    return [item.code for item in found.verdict.findings]


SECTIONS: dict[str, tuple[Callable[[int, int], None], int, int]] = {
    "surges": (surges, 40, 10),
    "drift": (drift, 60, 15),
    "whole": (whole, 40, 5),
    "heart": (heart, 100, 30),
    "foot": (foot, 60, 15),
    "hill": (hill, 100, 30),
    "price": (price, 60, 12),
}
"""Section, and how many trials of each kind: in full, and with --quick."""


def main() -> None:
    """Print every section asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer trials of everything")
    parser.add_argument("--only", nargs="+", choices=list(SECTIONS), default=list(SECTIONS))
    parser.add_argument("--seed", type=int, default=7)
    chosen = parser.parse_args()
    for name in chosen.only:
        section, full, quick = SECTIONS[name]
        section(chosen.seed, quick if chosen.quick else full)


if __name__ == "__main__":
    main()
