"""What a planned session of the demo is, and how its track is made ready for a device."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from simulation import devices
from simulation.devices import Record
from simulation.heart import Heart, heart_rate
from simulation.track import Track


@dataclass(frozen=True, slots=True)
class Faults:
    """What the devices did wrong: seconds without power or heart rate as (first, how many), a spike, a file cut short."""

    no_power: tuple[int, int] | None = None
    no_heart_rate: tuple[int, int] | None = None
    spike: int | None = None
    cut: tuple[int, int] | None = None  # whole records kept, bytes of the next one


@dataclass(frozen=True, slots=True)
class Session:
    """One session: where it is written, what it was for, what an audit must find, and how it is simulated.

    `expected` are the codes of the findings, empty for a session in band. `why` says why it is in the demo. `device` is the
    name that the recording gives itself; without power a ride is judged `by_heart`.
    """

    file: str
    start: datetime  # aware, local
    sport: str
    sub_sport: str
    why: str
    expected: tuple[str, ...]
    track: Callable[[int], Track]
    seed: int
    heart: Heart
    drift_per_h: float = 0.006
    temperature_c: tuple[float, float] | None = (14.0, 17.0)
    intent: str = "endurance"
    intent_source: str = "assumed"
    label_time: bool = False
    label_note: str = ""
    workout: str | None = None
    smart: bool = False
    phone: bool = False
    by_heart: bool = False
    device: str = ""
    enhanced: bool = False
    stop_kinds: tuple[str, ...] = ()
    laps: tuple[int, ...] = (0,)
    faults: Faults = field(default_factory=Faults)
    hearts: Callable[[Track, int], list[int]] | None = None


def simulate(session: Session) -> Track:
    """The session's track with heart rate and temperature."""
    track = session.track(session.seed)
    if session.hearts is None:
        track.heart_rate_bpm = heart_rate(session.heart, track.load, session.drift_per_h, session.seed + 1)
    else:
        track.heart_rate_bpm = session.hearts(track, session.seed + 1)
    if session.temperature_c:
        low, high = session.temperature_c
        track.temperature_c = [round(low + (high - low) * second / len(track)) for second in range(len(track))]
    return track


def recorded(session: Session, track: Track) -> list[Record]:
    """The records a device makes of it, with its faults."""
    records: Sequence[Record]
    if session.smart:
        records = devices.smart(track, session.seed + 2)
    else:
        records = devices.every_other(track) if session.phone else devices.every_second(track)
    faults = session.faults
    if session.by_heart:
        records = devices.drop_power(records, 0, len(track))
    if faults.no_power:
        records = devices.drop_power(records, *faults.no_power)
    if faults.no_heart_rate:
        records = devices.drop_heart_rate(records, *faults.no_heart_rate)
    if faults.spike is not None:
        records = devices.spike(records, faults.spike)
    return list(records)
