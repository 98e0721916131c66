"""A made-up week of an invented athlete, built by hand: no number here comes from the rooms that compute.

Loads, heart rates and places are simulated with a fixed seed; bands and surges are counted plainly from the simulated
arrays, so that every text on the page has something true to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from steadyband.athlete.model import Athlete, Failure
from steadyband.athlete.own_words import OwnWords
from steadyband.audit.model import (
    BAND_NAMES,
    GAP,
    PAUSE,
    RESTING,
    SEVERE,
    UNMEASURED,
    Audit,
    BandTime,
    Climb,
    Drift,
    Finding,
    FloatArray,
    LoadSummary,
    Quality,
    Seconds,
    SessionInfo,
    Surge,
    Surges,
    Traces,
    Verdict,
    ZonesUsed,
)
from steadyband.ground.reader import Reader
from steadyband.ground.said import Said
from steadyband.ground.settings import Settings
from steadyband.recording.model import Repair
from steadyband.review.model import Advice, PlanHours, Review, SportHours, TestInForce, Week
from steadyband.steptest.model import (
    AnalyserSd,
    Check,
    CurvePoint,
    EdgeRange,
    Edges,
    HrLimits,
    MethodReading,
    Ribbon,
    Sample,
    Step,
    StepTest,
    ZoneDraws,
    ZoneSet,
)

ZONE = ZoneInfo("Europe/Lisbon")
RNG_SEED = 7
BIKE = ZonesUsed(
    "2026-04-20-bike.toml", date(2026, 4, 20), 22, "current", "W", 180.0, 200.0, 212.4, None, 260.0,
    118.0, 124.0, 128.0, (176.0, 186.0), (206.0, 219.0), False, None,
)  # fmt: skip
FOOT = ZonesUsed(
    "2026-03-02-run.toml", date(2026, 3, 2), 74, "ageing", "min/km", 2.5, 2.78, 2.95, None, None,
    138.0, 146.0, 151.0, (2.4, 2.6), (2.88, None), True, None,
)  # fmt: skip


def wander(seconds: int, mean: float, spread: float, seed: int) -> FloatArray:
    """A load that wanders about its mean: a first-order random walk with a pull of 40 s."""
    rng = np.random.default_rng(seed)
    out = np.empty(seconds)
    value = 0.0
    for second in range(seconds):
        value += -value / 40 + rng.normal(0, spread * 0.22)
        out[second] = mean + value + rng.normal(0, spread * 0.5)
    return np.maximum(out, 0)


def centred(values: FloatArray, window: int) -> FloatArray:
    """Centred mean with the ends cut."""
    weights = np.convolve(np.ones(len(values)), np.ones(window), "same")
    return np.convolve(np.nan_to_num(values), np.ones(window), "same") / weights


def ribbon_of(load: FloatArray, zones: ZonesUsed | None) -> np.ndarray:
    """Codes by the 31-s mean."""
    if zones is None or zones.ceiling is None:
        return np.full(len(load), UNMEASURED, dtype=np.uint8)
    edges = [0.0 if zones.easy_empty or zones.floor is None else zones.floor, zones.ceiling, zones.threshold or 1e9]
    return np.digitize(centred(load, 31), edges).astype(np.uint8)


def surges_of(load: FloatArray, zones: ZonesUsed, causes: Sequence[str]) -> tuple[Surge, ...]:
    """Runs of the 3-s mean at or above the ceiling that last 5 s or more."""
    assert zones.ceiling is not None
    above = np.flatnonzero(np.diff(np.concatenate(([0], centred(load, 3) >= zones.ceiling, [0]))))
    found = [(a, b) for a, b in zip(above[::2], above[1::2], strict=True) if b - a >= 5]
    power = zones.load_unit == "W"
    return tuple(
        Surge(
            start_s=int(a), length_s=int(b - a), seconds_above=int(b - a), mean=float(load[a:b].mean()),
            highest=float(load[a:b].max()), dose_s=float((load[a:b] / zones.ceiling - 1).clip(0).sum()), work_above_j=float((load[a:b] - zones.ceiling).clip(0).sum()) if power else None,
            gap_before_s=None, lat=38.7, lon=-9.1, grade=0.04, cause=causes[i % len(causes)],
            forced=(i % 7 == 0) if power else None, micro=b - a <= 60,
        )
        for i, (a, b) in enumerate(found)
    )  # fmt: skip


def surges_total(events: tuple[Surge, ...], active: int) -> Surges:
    """The totals of a list of surges."""
    above = sum(event.seconds_above for event in events)
    causes: dict[str, int] = {}
    for event in events:
        causes[event.cause] = causes.get(event.cause, 0) + 1
    micro = sum(event.micro for event in events)
    work = [event.work_above_j for event in events if event.work_above_j is not None]
    known = [event.forced for event in events if event.forced is not None]
    return Surges(
        len(events), micro, len(events) - micro, micro * 3600 / active, above, above / active,
        sum(work) / 1000 if work else None, sum(known) if known else None, causes,
        ((10, micro), (60, 0), (None, len(events) - micro)), sum(event.dose_s for event in events) * 3600 / active, 0.0, events,
    )  # fmt: skip


def bands_of(ribbon: np.ndarray, load: FloatArray, beats: FloatArray) -> dict[str, BandTime]:
    """Seconds per band counted from the ribbon."""
    active = int((ribbon <= SEVERE).sum()) or 1
    bands = {}
    for code, name in enumerate(BAND_NAMES):
        inside = ribbon == code
        share = float(inside.sum() / active)
        mean = float(load[inside].mean()) if inside.any() else None
        pulse = float(beats[inside].mean()) if inside.any() and np.isfinite(beats[inside]).any() else None
        spread = (max(0.0, share - 0.06), min(1.0, share + 0.06)) if 0 < share < 1 else (share, share)
        bands[name] = BandTime(int(inside.sum()), share, spread, int(inside.sum() * 0.9), mean, pulse)
    return bands


def make_audit(
    start: str,
    load: FloatArray,
    zones: ZonesUsed | None = BIKE,
    *,
    sport: str = "cycling",
    beats: FloatArray | None = None,
    findings: tuple[Finding, ...] = (),
    reasons: tuple[Said, ...] = (),
    in_band: bool | None = True,
    agreement: float | None = 0.94,
    drift: Drift | None = None,
    causes: Sequence[str] = ("climb start", "rise", "climb start", "crest", "restart", "climb start", "flat"),
    ribbon: np.ndarray | None = None,
    **info: object,
) -> Audit:
    """An audit of a simulated load; `start` is local time in Lisbon."""
    local = datetime.fromisoformat(start).replace(tzinfo=ZONE)
    codes = ribbon_of(load, zones) if ribbon is None else ribbon
    load = np.where(np.isin(codes, (PAUSE, GAP)), np.nan, load)
    pulse = np.full(len(load), np.nan) if beats is None else np.where(np.isin(codes, (PAUSE, GAP)), np.nan, beats)
    count = {code: int((codes == code).sum()) for code in range(8)}
    active = sum(count[code] for code in range(4)) + count[UNMEASURED]
    paused, lost = count[PAUSE], count[GAP]
    measured = load[(codes <= SEVERE) & np.isfinite(load)]
    channel, unit = ("power", "W") if sport == "cycling" else ("flat_equivalent_speed", "m/s")
    events = surges_of(np.nan_to_num(load), zones, causes) if zones and len(measured) else ()
    name = f"{start[:10]}-{sport}.fit"
    return Audit(
        info=replace(SessionInfo(name, "0" * 64, sport, None, local.astimezone(UTC), local), **info),  # type: ignore[arg-type]
        zones=zones,
        seconds=Seconds(len(codes), len(codes) - paused - lost, paused, lost, active, int((load == 0).sum()), count[UNMEASURED]),
        load=LoadSummary(channel, unit, float(measured.mean()), float(measured.max()), float(np.nanmax(centred(load, 31))))  # type: ignore[arg-type]
        if len(measured)
        else None,
        bands=bands_of(codes, load, pulse) if zones and len(measured) else None,
        surges=surges_total(events, active) if zones and len(measured) else None,
        drift=drift or (Drift(0, 0, None, 2.1, (-3.0, 7.0), 1.8, 40) if zones and len(measured) else None),
        climbs=(Climb(4200.0, 1350.0, 64.0, 0.047, 3, 41),) if causes[0] == "climb start" and sport == "cycling" else (),
        quality=Quality(len(codes) - paused - lost, 0, 12, (), None),
        verdict=Verdict(findings, in_band, agreement, reasons),
        settings=Settings(),
        traces=Traces(codes, load, np.where(np.isfinite(load), centred(load, 31), np.nan), pulse, np.zeros(len(load))),
    )  # fmt: skip


def heart(load: FloatArray, base: float, gain: float, rise_per_h: float = 0.0) -> FloatArray:
    """A heart rate that follows the load slowly and creeps up."""
    hours = np.arange(len(load)) / 3600
    return np.round(base + gain * centred(load, 181) + rise_per_h * hours)


def steady_ride() -> Audit:
    """Tuesday: in band."""
    load = wander(5460, 190, 9, 1)
    load[:420] *= np.linspace(0.55, 1, 420)
    return make_audit("2026-05-12T07:31:04", load, beats=heart(load, 58, 0.33), name="Before work")


def surging_ride() -> Audit:
    """Thursday: surges on the climbs, a café stop and a gap."""
    rng = np.random.default_rng(2)
    load = wander(7900, 183, 12, 2)
    for start in rng.integers(200, 7600, 40):
        load[start : start + rng.integers(7, 45)] += rng.uniform(60, 210)
    load[2600:2780] = 0
    codes = ribbon_of(load, BIKE)
    codes[3900:4600], codes[6100:6190], codes[3880:3900] = PAUSE, GAP, RESTING
    finding = Finding(
        "surges",
        0.97,
        {
            "surges_per_hour": 18.2,
            "seconds_above": 480,
            "work_above_kj": 36.0,
            "above_per_hour_s": 84.0,
            "explained_per_hour_s": 2.0,
            "micro": 36,
            "sustained": 1,
            "places": [{"time_of_day": "18:16", "start_s": 812, "length_s": 36, "seconds_above": 31, "highest": 402.0, "work_above_j": 2310.0, "grade": 0.041}, {"time_of_day": "18:39", "start_s": 2210, "length_s": 22, "seconds_above": 18, "highest": 355.0, "work_above_j": 990.0, "grade": None}],
            "settings": {"surges.dose_s": 1.5, "verdict.surges_per_hour": 6},
        },
    )  # fmt: skip
    audit = make_audit(
        "2026-05-14T18:02:40", load, beats=heart(load, 60, 0.34), ribbon=codes, findings=(finding,), in_band=False
    )
    repairs = (Repair("above 2,500 W", "power_w", 3), Repair("outside 25 to 230", "heart_rate_bpm", 11))
    return replace(audit, quality=replace(audit.quality, dropped=2, repairs=repairs))


def run_without_easy() -> Audit:
    """Friday: a run of an athlete without an easy band."""
    load = wander(2760, 2.66, 0.10, 3)
    return make_audit(
        "2026-05-15T12:10:00", load, FOOT, sport="running", beats=heart(load, 60, 31), causes=("rise",), agreement=0.61
    )


def drifting_ride() -> Audit:
    """Saturday: creeps into zone 3 in the last hour."""
    load = wander(12020, 186, 9, 4)
    load[8400:] += np.linspace(6, 40, len(load) - 8400)
    drifted = Drift(3480, 3480, 8540, 8.4, (5.1, 11.6), 6.3, 1310)
    findings = (
        Finding("zone_3_drift", 0.91,
                {"load_longest_s": 3480, "load_drifted_s": 3480, "target_top": 200.0, "load_slope_per_h": 8.4, "places": [{"time_of_day": "10:42", "start_s": 8540, "length_s": 3480}], "settings": {"drift.window_s": 600}}),
        Finding("heart_rate_drift", 0.88,
                {"hr_drift_percent": 6.3, "hr_first_half_bpm": 121.0, "hr_second_half_bpm": 129.0, "load_first_half": 186.0, "load_second_half": 189.0, "settings": {"drift.hr_drift_percent": 5.0}}),
        Finding("too_high", 0.66, {"heavy_share": 0.12, "mean_band_load": 195.0}),
    )  # fmt: skip
    return make_audit(
        "2026-05-16T08:20:11", load, beats=heart(load, 58, 0.33, 2.6), findings=findings, in_band=False, drift=drifted
    )


def unjudged_ride() -> Audit:
    """Sunday: no power, no heart rate; nothing to judge by."""
    codes = np.full(4300, UNMEASURED, dtype=np.uint8)
    finding = Finding(
        "not_judged",
        None,
        {"reasons": ["no_load"]},
    )
    empty = np.full(4300, np.nan)
    audit = make_audit(
        "2026-05-17T09:00:00",
        empty,
        ribbon=codes,
        findings=(finding,),
        reasons=(Said("no_load"),),
        in_band=None,
        agreement=None,
    )
    return replace(audit, quality=replace(audit.quality, damage="The file breaks off after 4,300 of its records."))


def hard_session() -> Audit:
    """An interval session labelled hard: counted, not judged."""
    load = wander(3900, 160, 8, 6)
    for start in range(900, 3300, 480):
        load[start : start + 240] = wander(240, 292, 8, start)
    finding = Finding("not_judged", None, {"reasons": ["intent"]})
    info = {"intent": "hard", "intent_source": "sessions.csv"}
    return make_audit(
        "2026-05-13T18:00:00",
        load,
        beats=heart(load, 60, 0.36),
        in_band=None,
        agreement=None,
        findings=(finding,),
        reasons=(Said("intent", {"intent": "hard"}),),
        **info,
    )


def draws(edges: tuple[float, ...], beats: tuple[float, ...], easy_empty: bool) -> ZoneDraws:
    """Fifty curves that all agree."""
    return ZoneDraws(np.tile(edges, (51, 1)), np.tile(beats, (51, 1)), np.full(51, easy_empty))


def ribbon(loads: tuple[float, ...], lactate: tuple[float, ...]) -> Ribbon:
    """A ribbon 0.2 mmol/L to either side of these values."""
    middle = np.array(lactate)
    return Ribbon(np.array(loads), middle - 0.2, middle, middle + 0.2)


def zone_set(*, running: bool = False) -> ZoneSet:
    """A zone set as typed by hand."""
    if running:
        return _running_set()
    loads = (100.0, 120.0, 140.0, 160.0, 180.0, 200.0, 220.0)
    lactate = (1.1, 1.0, 1.1, 1.05, 1.1, 1.45, 1.75, 2.3)
    pulse = (None, 96.0, 101.0, 107.0, 113.0, 118.0, 124.0, 131.0)
    steps = tuple(
        Step(x, x, (Sample(5, y), Sample(10, y)), h) for x, y, h in zip(loads, lactate[1:], pulse[1:], strict=True)
    )
    test = StepTest(
        BIKE.test,
        BIKE.test_date,
        "cycling",
        "W",
        "fed",
        10,
        (1.1,),
        steps,
        AnalyserSd(0.18, 0.06),
        74.0,
        analyser="unit A",
    )
    return ZoneSet(
        test, True, Edges(5, 1.07, 180.0, 200.0, 212.4, None, False, False),
        {"floor": EdgeRange(176.0, 186.0), "target_top": EdgeRange(190.0, 204.0), "ceiling": EdgeRange(206.0, 219.0)},
        HrLimits(118, 124, 128),
        {"floor": EdgeRange(117.0, 120.0), "target_top": EdgeRange(121.0, 126.0), "ceiling": EdgeRange(126.0, 131.0)},
        tuple(CurvePoint(x, y, y, 0.18, h) for x, y, h in zip((0.0, *loads), lactate, pulse, strict=True)),
        ribbon(loads, lactate[1:]), 1.1,
        (Check("step_height", "warn", None, "steps of 20 W are 0.27 W/kg; at most 0.25 W/kg is advised"),),
        (MethodReading("baseline + 0.5 mmol/L", 186.0, "S2"), MethodReading("baseline + 1.0 mmol/L", 213.0, "S2"),
         MethodReading("log-log breakpoint", 176.0, "S3"), MethodReading("fixed 2.0 mmol/L", None, "common practice")),
        draws((180.0, 200.0, 212.0), (118.0, 124.0, 128.0), False), Settings().steptest,
    )  # fmt: skip


def _running_set() -> ZoneSet:
    paces = (400 / 60, 380 / 60, 360 / 60, 340 / 60)
    speeds = tuple(1000 / 60 / pace for pace in paces)
    lactate, pulse = (1.3, 1.75, 1.9, 2.1, 2.5), (None, 138.0, 142.0, 146.0, 152.0)
    steps = tuple(
        Step(p, s, (Sample(10, y),), h) for p, s, y, h in zip(paces, speeds, lactate[1:], pulse[1:], strict=True)
    )
    test = StepTest(FOOT.test, FOOT.test_date, "running", "min/km", "fed", 8, (1.3,), steps, AnalyserSd(0.18, 0.06))
    return ZoneSet(
        test, True, Edges(1, 1.3, 2.5, 2.78, None, 2.95, False, True),
        {"floor": EdgeRange(2.4, 2.6), "target_top": EdgeRange(2.6, 2.94), "ceiling": EdgeRange(2.88, None)},
        HrLimits(138, 146, None),
        {"floor": EdgeRange(138.0, 140.0), "target_top": EdgeRange(140.0, 151.0), "ceiling": EdgeRange(149.0, None)},
        tuple(CurvePoint(x, y, y, 0.18, h) for x, y, h in zip((0.0, *speeds), lactate, pulse, strict=True)),
        ribbon(speeds, lactate[1:]), 1.0,
        (), (MethodReading("baseline + 0.5 mmol/L", 2.55, "S2"),),
        draws((2.5, 2.78, 3.0), (138.0, 146.0, 151.0), True), Settings().steptest,
    )  # fmt: skip


def week(*more: Audit, name: str = "Invented Rider") -> Review:
    """A week of five sessions (and more, if given) with everything a page has to say."""
    audits = sorted(
        (steady_ride(), surging_ride(), run_without_easy(), drifting_ride(), unjudged_ride(), *more),
        key=lambda audit: audit.info.start,
    )
    folder = Path("athlete")
    athlete = Athlete(
        name, ZONE, Reader(), folder / "reports", {}, (), Settings(), folder / "tests", folder / "activities"
    )
    return Review(
        athlete=athlete, first_day=date(2026, 5, 11), last_day=date(2026, 5, 17), audits=tuple(audits),
        weeks=(Week(date(2026, 5, 11), (), (), ()),),
        failures=(Failure("notes.txt", "expected a FIT or GPX file, found text."),), judged=4, held=2, unsure=1,
        answer="Two of four endurance sessions held the band. Saturday's ride drifted above the ceiling for 58 min; Thursday's ride surged above the ceiling 38 times.",
        subline="Week 20, 11 to 17 May 2026. Cycling, test of 20 April: easy below 180 W, steady up to 212 W, on average at most 200 W. Running, test of 2 March: no easy band, steady up to at least 5:39 min/km, on average at most 6:00 min/km.",
        sports=tuple(_hours(audits)),
        tests=(TestInForce("cycling", zone_set(), 27, "current"), TestInForce("running", zone_set(running=True), 76, "ageing"), TestInForce("rowing", None, None, None, "no test of that sport was found")),
        notes={
            "test": ("Cycling: the test of 20 April 2026 is 3 weeks old (current).",),
            "fit": ("Cycling: the test still fits: heart rate at 180 to 200 W is within 2 bpm of the test.",),
            "taken": (),
        },
        changes=(Advice("Hold the last part at 200 W or less.", "Saturday: 58 min above 219 W from 10:44."), Advice("Settle into one even effort on each climb: stay below 219 W.", "Thursday: 38 surges above 219 W, 20 on a climb.")),
        went_well=(Advice("Tuesday and Friday both held the band.", "2 h 17 of training where the test wanted it."),),
        decisions=(Advice("Running: is the test still true?", "It is 10 weeks old; common practice is to test again every 6 to 8 weeks while training changes."), Advice("Running has no easy band.", "Every run is at least steady: put easy volume on the bike or on walking.")),
        unreadable=(Failure("notes.txt", "expected a FIT or GPX file, found text."),), own_words=(OwnWords(),) * len(audits),
        left_out=("2026-05-14-cycling.fit: 2 records left out (no time, or a time far from the file's own start).", "2026-05-17-cycling.fit: The file breaks off after 4,300 of its records."),
        plan=(PlanHours("cycling", "steady", 5.0, 4.82, False, True, 1.2), PlanHours("cycling", "heavy", 0.25, 0.62, True, False, 0.0)),
        since_last_week=("9 h 06 active after 8 h 10; two of four held after three of four held.",),
    )  # fmt: skip


def _hours(audits: Sequence[Audit]) -> list[SportHours]:
    hours = []
    for sport in ("cycling", "running"):
        chosen = [audit for audit in audits if audit.info.sport == sport]
        bands = {name: sum(audit.bands[name].seconds for audit in chosen if audit.bands) for name in BAND_NAMES}
        active = sum(audit.seconds.active for audit in chosen)
        hours.append(SportHours(sport, len(chosen), active, bands, active - sum(bands.values())))
    return hours


def as_plotly(figure: Any) -> Any:
    """A figure as plotly itself has it: every key and value checked."""
    import plotly.graph_objects

    return plotly.graph_objects.Figure(figure.data, figure.layout)
