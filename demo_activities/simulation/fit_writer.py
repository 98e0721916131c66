"""FIT activity files through fit-tool: file id, device, sport, timer events, records, laps, session, activity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fit_tool import FitFile, FitFileBuilder  # type: ignore[import-untyped,unused-ignore]
from fit_tool.data_message import DataMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.definition_message import DefinitionMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.fit_file_header import (  # type: ignore[import-untyped,unused-ignore]
    FitFileHeader,
    ProfileVersion,
    ProtocolVersion,
)
from fit_tool.profile.messages import common_fields  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages import record_message as fields  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.activity_message import ActivityMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.device_info_message import (  # type: ignore[import-untyped,unused-ignore]
    DeviceInfoMessage,
)
from fit_tool.profile.messages.event_message import EventMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.file_id_message import FileIdMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.lap_message import LapMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.session_message import SessionMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.sport_message import SportMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.messages.workout_message import WorkoutMessage  # type: ignore[import-untyped,unused-ignore]
from fit_tool.profile.profile_type import (  # type: ignore[import-untyped,unused-ignore]
    Activity,
    Event,
    EventType,
    FileType,
    LapTrigger,
    SessionTrigger,
    Sport,
    SubSport,
)

from simulation.devices import Record
from simulation.track import Pause

DEVELOPMENT = 255
"""FIT manufacturer number reserved for development: no maker's device wrote these files."""
SERIAL = 7
HEADER = (ProtocolVersion(2, 0), ProfileVersion(21, 141))
"""Fixed, so that a newer writing library gives the same bytes."""

CHANNELS: dict[str, tuple[str, Any]] = {
    "lat_deg": ("RecordPositionLatField", None),
    "lon_deg": ("RecordPositionLongField", None),
    "distance_m": ("RecordDistanceField", None),
    "altitude_m": ("RecordAltitudeField", "RecordEnhancedAltitudeField"),
    "speed_mps": ("RecordSpeedField", "RecordEnhancedSpeedField"),
    "power_w": ("RecordPowerField", None),
    "heart_rate_bpm": ("RecordHeartRateField", None),
    "cadence_rpm": ("RecordCadenceField", None),
    "temperature_c": ("RecordTemperatureField", None),
}


@dataclass(frozen=True, slots=True)
class Header:
    """What a FIT activity says about itself. Laps are the seconds at which a new lap begins, the first one 0."""

    start_unix_s: int
    utc_offset_s: int
    sport: str
    sub_sport: str
    pauses: tuple[Pause, ...] = ()
    laps: tuple[int, ...] = (0,)
    workout: str | None = None
    enhanced: bool = False
    device: str = ""


def fit_bytes(head: Header, records: Sequence[Record], finished: bool = True) -> bytes:
    """The whole file as bytes; not `finished` leaves out all that a device writes when it is stopped."""
    builder = FitFileBuilder(auto_define=True)
    _opening(builder, head)
    _body(builder, head, records)
    if finished:
        _closing(builder, head, records)
    size = sum(item.size for item in builder.records)
    header = FitFileHeader(size, protocol_version=HEADER[0], profile_version=HEADER[1], gen_crc=True)
    return bytes(FitFile(header, builder.records).to_bytes())


def cut_bytes(head: Header, records: Sequence[Record], kept: int, left_over: int) -> bytes:
    """A file whose device died: `kept` whole records, then `left_over` bytes of the next one, and no more."""
    whole = fit_bytes(head, records)
    until = len(fit_bytes(head, records[:kept], finished=False)) - 2
    return whole[: until + left_over]


def _ms(head: Header, second: int) -> int:
    return (head.start_unix_s + second) * 1000


def _opening(builder: FitFileBuilder, head: Header) -> None:
    named = {"product_name": head.device} if head.device else {}
    builder.add(_filled(FileIdMessage(local_id=1), type=FileType.ACTIVITY, manufacturer=DEVELOPMENT, product=1,
                        serial_number=SERIAL, time_created=_ms(head, 0), **named))  # fmt: skip
    builder.add(_filled(DeviceInfoMessage(local_id=2), timestamp=_ms(head, 0), device_index=0,
                        manufacturer=DEVELOPMENT, product=1, serial_number=SERIAL, software_version=1.0))  # fmt: skip
    builder.add(_filled(SportMessage(local_id=3), sport=Sport[head.sport.upper()],
                        sub_sport=SubSport[head.sub_sport.upper()]))  # fmt: skip
    if head.workout:
        builder.add(_filled(WorkoutMessage(local_id=4), sport=Sport[head.sport.upper()], num_valid_steps=0,
                            workout_name=head.workout))  # fmt: skip


def _body(builder: FitFileBuilder, head: Header, records: Sequence[Record]) -> None:
    """Timer events and records in order of time."""
    writer = _RecordWriter(records[0], head.enhanced)
    stops = {pause.stop_s for pause in head.pauses}
    starts = {pause.start_s for pause in head.pauses}
    _timer(builder, head, 0, EventType.START)
    for item in records:
        if item.second in starts:
            _timer(builder, head, item.second, EventType.START)
        builder.add(writer.message(_ms(head, item.second), item))
        if item.second in stops:
            _timer(builder, head, item.second, EventType.STOP_ALL)


def _timer(builder: FitFileBuilder, head: Header, second: int, kind: EventType) -> None:
    builder.add(_filled(EventMessage(local_id=5), timestamp=_ms(head, second), event=Event.TIMER, event_type=kind))


def _closing(builder: FitFileBuilder, head: Header, records: Sequence[Record]) -> None:
    last = records[-1].second
    _timer(builder, head, last, EventType.STOP_ALL)
    ends = [*head.laps[1:], last]
    for number, (first, end) in enumerate(zip(head.laps, ends, strict=True)):
        part = [item for item in records if first <= item.second < end or end == last == item.second]
        trigger = LapTrigger.SESSION_END if end == last else LapTrigger.MANUAL
        message = _filled(LapMessage(local_id=6), message_index=number, event=Event.LAP, event_type=EventType.STOP,
                          lap_trigger=trigger)  # fmt: skip
        builder.add(_summary(message, head, part, first, end))
    session = _filled(SessionMessage(local_id=7), message_index=0, event=Event.SESSION, event_type=EventType.STOP,
                      trigger=SessionTrigger.ACTIVITY_END, first_lap_index=0, num_laps=len(head.laps))  # fmt: skip
    builder.add(_summary(session, head, records, 0, last))
    builder.add(_filled(ActivityMessage(local_id=8), timestamp=_ms(head, last), num_sessions=1, type=Activity.MANUAL,
                        total_timer_time=_timed(head, 0, last), event=Event.ACTIVITY, event_type=EventType.STOP,
                        local_timestamp=_fit_local(head, last)))  # fmt: skip


def _fit_local(head: Header, second: int) -> int:
    """Local time in seconds since 1989-12-31T00:00 (FIT protocol), as this field is written raw."""
    return head.start_unix_s + second + head.utc_offset_s - 631065600


def _timed(head: Header, first: int, end: int) -> float:
    """Seconds between two seconds of a session in which the timer ran."""
    stopped = sum(max(0, min(end, item.start_s) - max(first, item.stop_s)) for item in head.pauses)
    return float(end - first - stopped)


def _summary(message: DataMessage, head: Header, part: Sequence[Record], first: int, end: int) -> DataMessage:
    """Times, distance, speed, heart rate, power and cadence of a lap or a session."""
    timed = _timed(head, first, end)
    metres = part[-1].distance_m - (part[0].distance_m if first else 0.0)
    beats = [item.heart_rate_bpm for item in part if item.heart_rate_bpm is not None]
    watts = [item.power_w for item in part if item.power_w is not None and item.power_w < 2500]
    _filled(message, timestamp=_ms(head, end), start_time=_ms(head, first), sport=Sport[head.sport.upper()],
            sub_sport=SubSport[head.sub_sport.upper()], total_elapsed_time=float(end - first), total_timer_time=timed,
            total_distance=metres, avg_speed=metres / timed, max_speed=max(item.speed_mps for item in part),
            avg_heart_rate=round(sum(beats) / len(beats)), max_heart_rate=max(beats))  # fmt: skip
    return _filled(message, avg_power=round(sum(watts) / len(watts)), max_power=max(watts)) if watts else message


def _filled(message: DataMessage, **values: object) -> DataMessage:
    for name, value in values.items():
        setattr(message, name, value)
    return message


class _RecordWriter:
    """Record messages that carry only the channels this device has: the library's fields, one definition."""

    def __init__(self, first: Record, enhanced: bool) -> None:
        present = [name for name in CHANNELS if getattr(first, name) is not None]
        wide = {name: pair[1] if enhanced and pair[1] else pair[0] for name, pair in CHANNELS.items()}
        self.names = tuple(present)
        self.kinds = tuple(getattr(fields, wide[name]) for name in present)
        self.definition: DefinitionMessage | None = None

    def message(self, timestamp_ms: int, item: Record) -> DataMessage:
        slots = [common_fields.TimestampField(), *(kind() for kind in self.kinds)]
        slots[0].set_value(0, timestamp_ms)
        for slot, name in zip(slots[1:], self.names, strict=True):
            value = getattr(item, name)
            slot.set_encoded_value(0, slot.encode_value(value), check_validity=value is not None)
        made = DataMessage(local_id=0, global_id=fields.RecordMessage.ID, name="record", fields=slots)
        self.definition = self.definition or DefinitionMessage.from_data_message(made)
        made.definition_message = self.definition
        return made
