"""The messages of one FIT activity to sessions: one per session message with records, split by time."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from steadyband.recording.fit.frames import SEMICIRCLES_TO_DEG, Part, number, unix, unix_column
from steadyband.recording.fit.parts import Records
from steadyband.recording.limits import SESSIONS_MAX, check_count, check_time
from steadyband.recording.model import FloatArray, Lap, Note, SessionRecords
from steadyband.recording.timeline import own_start, time_order

Message = Mapping[str, Any]
Span = tuple[float, float]

_FIELDS: dict[str, tuple[tuple[str, ...], float]] = {
    "power_w": (("power",), 1.0),
    "heart_rate_bpm": (("heart_rate",), 1.0),
    "cadence_rpm": (("cadence",), 1.0),
    "speed_mps": (("enhanced_speed", "speed"), 1.0),
    "distance_m": (("distance",), 1.0),
    "altitude_m": (("enhanced_altitude", "altitude"), 1.0),
    "lat_deg": (("position_lat",), SEMICIRCLES_TO_DEG),
    "lon_deg": (("position_long",), SEMICIRCLES_TO_DEG),
    "temperature_c": (("temperature",), 1.0),
}
"""Record fields of each channel, the best first, and the factor to SI."""

_DEVELOPER = {"power_w": "developer_power", "speed_mps": "developer_speed"}

_EQUIPMENT = {"indoor_cycling": "cycling", "spin": "cycling", "treadmill": "running", "indoor_rowing": "rowing"}
"""Sport of a session recorded as fitness_equipment, by its sub-sport."""

MOVING_MPS = 0.5
RIDING_MPS = 5.5
RUNNING_MPS = (2.0, 5.0)
"""Median speeds [m/s] by which a sport is guessed where the file names none (common practice, no source)."""

APART = {"speed_mps": 0.1, "altitude_m": 1.0}
"""Two fields of one channel differ where they are further apart than rounding and clipping put them (design choice)."""

TRAILING_S = 60.0
"""Records this long after the last session of a cut file belong to one whose message was lost (design choice)."""


@dataclass(frozen=True, slots=True)
class _Window:
    """One session's message; the span of time that belongs to it begins at `from_s`."""

    from_s: float
    message: Message


def device_of(part: Part) -> str | None:
    """Maker and product as the file names them, or None."""
    for info in (part.file_id, *part.messages["device_info"][:1]):
        product = info.get("product_name") or info.get("garmin_product") or info.get("product")
        words = [str(word) for word in (info.get("manufacturer"), product) if word]
        if words:
            return " ".join(words)
    return None


def sessions_of(part: Part, cut: bool) -> tuple[list[SessionRecords], list[Note]]:
    """The sessions of one activity with at least one timed record, and notes on what was left out or replaced.

    `cut` says that the stream is damaged, so the last session's message may be missing.
    """
    all_times = unix_column(part.records.column("timestamp"))
    timed = np.flatnonzero(np.isfinite(all_times))
    if not len(timed):
        return [], []
    order, backwards = time_order(all_times[timed])
    time_s, records = all_times[timed][order], part.records.taken(timed[order])
    notes = [*_order_notes(len(all_times) - len(timed), backwards), *_list_notes(part.records)]
    origin = own_start((*_header_starts(part), float(all_times[timed[0]])), time_s)
    sessions, marks = [], _marks(part)
    windows = _windows(part, time_s, cut)
    check_count(len(windows), SESSIONS_MAX, "sessions")
    for window, low, high in _slices(windows, time_s):
        check_time()
        session, said = _session(part, window.message, time_s[low:high], records.taken(slice(low, high)), marks)
        sessions.append(dataclasses.replace(session, origin_s=origin))
        notes += said
    empty = len(windows) - len(sessions)
    if empty:
        notes.append(Note("empty_session", "info", f"{empty} session(s) of the file hold no records.", empty))
    sessions[0] = dataclasses.replace(sessions[0], dropped=len(all_times) - len(timed))
    return sessions, notes


def _order_notes(untimed: int, backwards: int) -> list[Note]:
    notes = []
    if untimed:
        notes.append(Note("untimed", "warn", f"{untimed} record(s) without a time were dropped.", untimed))
    if backwards:
        text = f"{backwards} record(s) stood before an earlier one; all were put in order of time."
        notes.append(Note("order", "warn", text, backwards))
    return notes


def _list_notes(records: Records) -> list[Note]:
    return [
        Note("list", "warn", f"{count} value(s) of {name} are lists of numbers, not one, and were left out.", count)
        for name, count in records.lists.items()
    ]


def _header_starts(part: Part) -> list[float]:
    starts = [unix(message.get("start_time")) for message in part.messages["session"]]
    known = [start for start in starts if start == start]
    return [min(known, default=float("nan")), unix(part.file_id.get("time_created"))]


def _span(message: Message) -> Span:
    """Start and end of a lap or session; the end is start plus elapsed time, else when the message was written."""
    start, written = unix(message.get("start_time")), unix(message.get("timestamp"))
    elapsed = number(message.get("total_elapsed_time"))
    if start != start:
        start = written - elapsed
    end = start + elapsed
    return start, end if end == end else written


def _windows(part: Part, time_s: FloatArray, cut: bool) -> list[_Window]:
    """The first window reaches back to the first record, whatever its start says, and the last to the last record."""
    spans = [(*_span(message), message) for message in part.messages["session"]]
    known = sorted((s for s in spans if s[0] == s[0]), key=lambda s: s[0])
    if not known:
        return [_Window(float("-inf"), spans[0][2] if spans else {})]
    windows = [_Window(start, message) for start, _, message in known]
    last_end = max(end for _, end, _ in known)
    if cut and time_s[-1] > last_end + TRAILING_S:
        windows.append(_Window(last_end, {"sport": "unknown"}))
    return windows


def _slices(windows: Sequence[_Window], time_s: FloatArray) -> list[tuple[_Window, int, int]]:
    inner = np.searchsorted(time_s, [window.from_s for window in windows[1:]]).tolist()
    edges = [0, *inner, len(time_s)]
    return [(w, low, high) for w, low, high in zip(windows, edges[:-1], edges[1:], strict=True) if low < high]


def _marks(part: Part) -> tuple[list[Span], list[Lap]]:
    """The pauses and laps of a whole file, worked out once for all its sessions."""
    return _pauses(part), _laps(part)


def _session(
    part: Part, message: Message, time_s: FloatArray, records: Records, marks: tuple[list[Span], list[Lap]]
) -> tuple[SessionRecords, list[Note]]:
    sport, sub_sport, notes = _sport(part, message)
    channels, replaced = _channels(records)
    first, last = float(time_s[0]), float(time_s[-1])
    guessed = sport == "unknown" and not part.messages["session"]
    if guessed:
        sport, told = guessed_sport(channels)
        notes = [*notes, *([told] if told else [])]
    session = SessionRecords(
        sport=sport,
        sub_sport=sub_sport,
        name=_name(part),
        time_s=time_s,
        channels=channels,
        pauses=tuple((stop, start) for stop, start in marks[0] if stop < last and start > first),
        laps=tuple(lap for lap in marks[1] if _belongs(lap, first, last)),
        guessed=guessed,
    )
    return session, notes + replaced


def _sport(part: Part, message: Message) -> tuple[str, str | None, list[Note]]:
    named = [message, *part.messages["sport"], *part.messages["lap"]]
    source = next((info for info in named if isinstance(info.get("sport"), str)), {})
    sport, sub_sport = source.get("sport", "unknown"), source.get("sub_sport")
    sub_sport = sub_sport if isinstance(sub_sport, str) else None
    if sport == "fitness_equipment" and sub_sport in _EQUIPMENT:
        taken = _EQUIPMENT[sub_sport]
        return taken, sub_sport, [Note("sport", "info", f"{sport} with {sub_sport} is taken as {taken}.")]
    return sport, sub_sport, []


def _belongs(lap: Lap, first: float, last: float) -> bool:
    """True where at least half of a lap, or of the session's records from `first` to `last`, lies in the other.

    So a lap of which most was never recorded stays with its session, and one of its neighbour does not come in.
    """
    shared = min(lap.end_s, last) - max(lap.start_s, first)
    return shared >= 0 and 2 * shared >= min(lap.end_s - lap.start_s, last - first)


def guessed_sport(channels: Mapping[str, FloatArray]) -> tuple[str, Note | None]:
    """(the sport of records that name none, by what they hold, a note that says so); "unknown" and none where it is not clear."""
    speed = channels.get("speed_mps", np.empty(0))
    moving = speed[speed >= MOVING_MPS]
    median = float(np.median(moving)) if len(moving) else None
    power, cadence = ("power_w" in channels and _has_signal(channels["power_w"])), "cadence_rpm" in channels
    told = f"its median speed is {3.6 * median:.0f} km/h" if median else "it has power and no speed"
    if (median is None and power) or (median is not None and median >= RIDING_MPS and (power or cadence)):
        sport = "cycling"
    elif median is not None and RUNNING_MPS[0] <= median <= RUNNING_MPS[1] and not power:
        sport = "running"
    else:
        return "unknown", None
    text = f"The file does not say its sport; taken as {sport}, since {told}. --sport or sessions.csv correct it."
    return sport, Note("sport", "warn", text)


def _name(part: Part) -> str | None:
    names = [message.get("wkt_name") for message in part.messages["workout"]]
    return next((name for name in names if isinstance(name, str)), None)


def _channels(records: Records) -> tuple[dict[str, FloatArray], list[Note]]:
    channels: dict[str, FloatArray] = {}
    notes: list[Note] = []
    for channel, (names, factor) in _FIELDS.items():
        values = _column(records, names) * factor
        notes += _disagreement(channel, [records.column(name) for name in names])
        if channel in _DEVELOPER and not _has_signal(values):
            declared = _column(records, (_DEVELOPER[channel],))
            if _has_signal(declared):
                values = declared
                text = f"{channel} comes from a developer field, as the recording has none of its own."
                notes.append(Note("developer_field", "info", text, int(np.isfinite(values).sum()), channel))
        if np.isfinite(values).any():
            channels[channel] = values
    return channels, notes


def _disagreement(channel: str, fields: Sequence[FloatArray]) -> list[Note]:
    """A note where two fields of one channel tell different things; the more exact one is used."""
    if len(fields) < 2:
        return []
    count = int(np.count_nonzero(np.abs(fields[0] - fields[1]) > APART.get(channel, np.inf)))
    text = f"Two fields tell different values of {channel} in {count} record(s); the more exact one is used."
    return [Note("fields_differ", "warn", text, count, channel)] if count else []


def _column(records: Records, names: tuple[str, ...]) -> FloatArray:
    column = np.full(len(records), np.nan)
    for name in reversed(names):
        values = records.column(name)
        column = np.where(np.isfinite(values), values, column)
    return column


def _has_signal(values: FloatArray) -> bool:
    return bool(np.any(values[np.isfinite(values)] != 0))


def _pauses(part: Part) -> list[Span]:
    """(timer stop, next timer start); a stop without a later start opens none."""
    events = [e for e in part.messages["event"] if e.get("event") == "timer"]
    timed = [(unix(e.get("timestamp")), str(e.get("event_type", ""))) for e in events]
    pauses: list[Span] = []
    stopped: float | None = None
    for at, kind in sorted((e for e in timed if e[0] == e[0]), key=lambda e: e[0]):
        if kind.startswith("stop"):
            stopped = at if stopped is None else stopped
        elif kind == "start" and stopped is not None:
            pauses.append((stopped, at))
            stopped = None
    return pauses


def _laps(part: Part) -> list[Lap]:
    spans = sorted(_span(message) for message in part.messages["lap"])
    return [Lap(start, end) for start, end in spans if start <= end]
