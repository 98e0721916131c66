"""From a planned session to its file's bytes and to what the truth file says about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from simulation import reference, truth
from simulation.athlete import UTC_OFFSET_S, edges_of, heart_edges
from simulation.devices import SPIKE_W, Record
from simulation.findings import Measured, findings, measure
from simulation.fit_writer import Header, cut_bytes, fit_bytes
from simulation.gpx_writer import gpx_text
from simulation.reference import Edges, Rows, Sample
from simulation.session import Session, recorded, simulate
from simulation.track import Pause, Planted, Track, pauses

START_WITHIN_S = 5
"""A surge found by the reference may begin this far from its first planted second: a 10-s mean smears an edge by five."""
DOSE_LEAST_S, DOSE_MOST_S = 2.0, 0.75
"""A planted effort's load above the ceiling adds up to at least so many seconds' worth of it, a near miss's to at most so many."""


@dataclass(frozen=True, slots=True)
class Built:
    """One session made: its bytes, and its entry in the truth file."""

    content: bytes
    truth: dict[str, Any]


def step_hearts(session: Session) -> tuple[int, ...]:
    """Highest heart rate [bpm] of each lap of a test's recording."""
    track = simulate(session)
    ends = [*session.laps[1:], len(track)]
    return tuple(max(track.heart_rate_bpm[first:end]) for first, end in zip(session.laps, ends, strict=True))


def build(session: Session, hearts: dict[str, tuple[int, ...]]) -> Built:
    """Simulate a session, write its file, and work out what an audit must find.

    `hearts` are the step hearts of the tests by sport. Raises ValueError where the reference does not find what was
    planned: then the plan is wrong, and no file must be written.
    """
    track = simulate(session)
    records = recorded(session, track)
    stops = pauses(track.running, session.stop_kinds)
    content = _content(session, records, stops)
    kept = records[: session.faults.cut[0]] if session.faults.cut else records
    edges = (heart_edges if session.by_heart else edges_of)(session.sport, hearts[session.sport])
    has_power = session.sport == "cycling" and not session.by_heart
    rows = reference.rows(samples(session, track, kept), _spans(stops), has_power)
    found = measure(rows, edges, has_power, session.by_heart)
    planted = [item for item in track.planted if item.start_s <= kept[-1].second]
    codes = findings(found, edges, session.intent, session.intent_source != "assumed")
    _check(session, found, [item for item in planted if item.counts], codes)
    _check_doses(session, rows, edges, planted)
    return Built(content, truth.entry(session, truth.Simulated(track, kept, stops, rows, found, edges)))


def samples(session: Session, track: Track, records: Sequence[Record]) -> list[Sample]:
    """Records as the reference takes them: power or heart rate by bike, planned flat-equivalent speed on foot."""
    riding = session.sport == "cycling"
    return [
        Sample(
            item.second,
            item.heart_rate_bpm
            if session.by_heart
            else _plausible(item.power_w)
            if riding
            else track.load[item.second],
            item.heart_rate_bpm,
            item.speed_mps,
        )
        for item in records
    ]


def _plausible(power: int | None) -> float | None:
    return None if power is None or power >= SPIKE_W else float(power)


def _spans(stops: Sequence[Pause]) -> list[tuple[int, int]]:
    return [(item.stop_s, item.start_s) for item in stops]


def _content(session: Session, records: Sequence[Record], stops: Sequence[Pause]) -> bytes:
    start = round(session.start.timestamp())
    if session.file.endswith(".gpx"):
        return gpx_text("Ride of the demo (invented)", session.sport, start, records).encode()
    head = Header(
        start_unix_s=start,
        utc_offset_s=UTC_OFFSET_S,
        sport=session.sport,
        sub_sport=session.sub_sport,
        pauses=tuple(stops),
        laps=session.laps,
        workout=session.workout,
        enhanced=session.enhanced,
        device=session.device,
    )
    if session.faults.cut:
        return cut_bytes(head, records, *session.faults.cut)
    return fit_bytes(head, records)


def _check(session: Session, found: Measured, planted: Sequence[Planted], codes: Sequence[str]) -> None:
    if tuple(codes) != session.expected:
        raise ValueError(f"{session.file}: planned {session.expected}, the reference finds {codes}: {found}")
    if len(found.surges) != len(planted):
        raise ValueError(f"{session.file}: planted {planted}, the reference finds {found.surges}")
    for one, other in zip(found.surges, planted, strict=True):
        if abs(one.start_s - other.start_s) > START_WITHIN_S or abs(one.length_s - other.seconds) > 2 * START_WITHIN_S:
            raise ValueError(f"{session.file}: planted {other}, the reference finds {one}")


def _check_doses(session: Session, rows: Rows, edges: Edges, planted: Sequence[Planted]) -> None:
    """Planted efforts stand far above the ceiling and near misses far below a surge, so that no detail can tip one."""
    for item in planted:
        dose = reference.dose_s(rows, edges, item.start_s, item.seconds)
        if dose < DOSE_LEAST_S if item.counts else dose > DOSE_MOST_S:
            raise ValueError(f"{session.file}: planted {item}, its dose is {dose:.2f} s")
