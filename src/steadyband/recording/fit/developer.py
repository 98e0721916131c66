"""Developer fields of a FIT file: their descriptions, kept as fitdecode keeps them."""

from __future__ import annotations

import struct
from typing import Any

from fitdecode import FitParseError, profile
from fitdecode.types import BASE_TYPE_BYTE, BASE_TYPES, DevField

from steadyband.recording.fit.profile import Shape, Slot
from steadyband.recording.not_covered import NotCovered

_UNDEFINED = object()
_developer_field: Any = DevField
_unreadable: Any = FitParseError


class DeveloperFields:
    """The developer fields described so far; `version` grows with every message about them."""

    def __init__(self) -> None:
        self.version = 0
        self._fields: dict[int, dict[Any, Any]] = {}

    def field(self, index: int, num: int) -> Any:
        """The field in force; one that nothing describes is taken as bytes without a name."""
        known = self._fields.setdefault(index, {})
        if num not in known:
            known[num] = _developer_field(index, None, num, BASE_TYPE_BYTE, None, None)
        return known[num]

    def told(self, shape: Shape, data: bytes, at: int) -> None:
        """Take in one developer_data_id or field_description message.

        Raises FitParseError as fitdecode does for a description of an undeclared developer, NotCovered for messages
        without the usual numbers.
        """
        if any(slot.developer for slot in shape.slots):
            raise NotCovered(f"developer fields in {shape.name}")
        self.version += 1
        index = _value(shape, data, at, "developer_data_index")
        if shape.num == profile.MESG_NUM_DEVELOPER_DATA_ID:
            self._fields[_whole(index, shape)] = {}
        else:
            self._describe(shape, data, at, index)

    def _describe(self, shape: Shape, data: bytes, at: int, index: Any) -> None:
        num = None if index is _UNDEFINED or index is None else _whole(index, shape)
        if num is None or num not in self._fields:
            raise _unreadable(at, f"developer_data_index {num} not defined")
        named = ("field_definition_number", "fit_base_type_id", "field_name", "units", "native_field_num")
        values = [_value(shape, data, at, name) for name in named]
        field_num, base, name, units, native = (None if value is _UNDEFINED else value for value in values)
        if base is not None and base not in BASE_TYPES:
            raise NotCovered("a developer field of an unknown base type")
        base_type = BASE_TYPE_BYTE if base is None else BASE_TYPES[base]
        self._fields[num][field_num] = _developer_field(num, name, field_num, base_type, units, native)


def _whole(value: Any, shape: Shape) -> int:
    if not isinstance(value, int):
        raise NotCovered(f"no whole number as developer_data_index in {shape.name}")
    return value


def _value(shape: Shape, data: bytes, at: int, name: str) -> Any:
    """Raw value of the first field of that name."""
    slot = next((slot for slot in shape.slots if slot.field and slot.field.name == name), None)
    return _UNDEFINED if slot is None else raw_value(slot, shape.endian, data, at)


def raw_value(slot: Slot, endian: str, data: bytes, at: int) -> Any:
    """One field of the message that begins at byte `at`, as fitdecode's raw value."""
    values = struct.unpack_from(f"{endian}{slot.length}{slot.base.fmt}", data, at + slot.at)
    if slot.base is BASE_TYPE_BYTE:
        return slot.base.parse(values)
    return slot.base.parse(values[0]) if len(values) == 1 else tuple(slot.base.parse(value) for value in values)
