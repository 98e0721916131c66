"""Shapes of FIT messages: where each field lies and what it says, by fitdecode's own profile tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

from fitdecode import profile
from fitdecode.types import BASE_TYPE_BYTE, BASE_TYPES

from steadyband.recording.not_covered import NotCovered

NEEDED = frozenset(
    {
        "record",
        "lap",
        "session",
        "event",
        "file_id",
        "sport",
        "workout",
        "device_info",
        "activity",
        "field_description",
        "developer_data_id",
    }
)
"""Messages that are decoded; all others are counted and skipped."""

HEART_RATE_NUM: int = profile.MESG_NUM_HR
TIMESTAMP_NUM: int = profile.FIELD_NUM_TIMESTAMP
DEVELOPER_NUMS = frozenset({profile.MESG_NUM_DEVELOPER_DATA_ID, profile.MESG_NUM_FIELD_DESCRIPTION})

DeveloperField = Callable[[int, int], Any]
"""(developer data index, field number) -> fitdecode's DevField in force."""


class Slot(NamedTuple):
    """One defined field: `at` bytes after the record header, `length` values of base type `base`."""

    num: int
    at: int
    base: Any
    length: int
    field: Any
    developer: bool

    @property
    def is_text(self) -> bool:
        """True for strings."""
        return bool(self.base.fmt == "s")

    @property
    def is_many(self) -> bool:
        """True where fitdecode gives a tuple: arrays, and bytes of any length."""
        return not self.is_text and (self.length > 1 or self.base is BASE_TYPE_BYTE)

    @property
    def is_integer(self) -> bool:
        """True for one whole number."""
        return not self.is_many and self.base.fmt in "bBhHiIqQ"


Alternatives = tuple[tuple[tuple[Slot, int], ...], ...]
"""Per subfield, the (reference slot, raw value) pairs any of which selects it; the first subfield selected counts."""


@dataclass(frozen=True, slots=True)
class Emission:
    """One field that fitdecode gives for a message of a shape; `choice` is the subfield that must be selected, -1 none.

    `component` is set for a value expanded from the slot's; without a slot it is the time of a compressed header.
    """

    field: Any
    slot: Slot | None
    component: Any = None
    alternatives: Alternatives = ()
    choice: int = -1

    @property
    def name(self) -> str | None:
        """The field's name, as fitdecode's FieldData has it."""
        if self.field:
            return self.field.name  # type: ignore[no-any-return]
        return f"unknown_{self.slot.num}" if self.slot else None

    @property
    def units(self) -> str | None:
        """The field's unit by the profile or by its developer."""
        return self.field.units if self.field else None

    @property
    def is_own(self) -> bool:
        """True for a field of the file itself, False for one expanded from another or from the header."""
        return self.slot is not None and self.component is None

    @property
    def is_developer(self) -> bool:
        """True for a developer field."""
        return self.slot is not None and self.slot.developer

    @property
    def rendered(self) -> dict[Any, str]:
        """Numbers that fitdecode replaces by a name."""
        return (self.field.type.enum or {}) if self.field else {}


class Shape:
    """What one definition message says about its data messages; `refused` names what is not covered in them."""

    def __init__(self, num: int, endian: str, slots: tuple[Slot, ...], size: int, refused: str) -> None:
        self.num = num
        self.endian = endian
        self.slots = slots
        self.size = size
        self.refused = refused
        self.message: Any = profile.MESSAGE_TYPES.get(num)
        self.name: str = self.message.name if self.message else f"unknown_{num}"

    @cached_property
    def accumulated(self) -> frozenset[int]:
        """Fields whose sums a definition of this shape sets back to 0."""
        fields = [slot.field for slot in self.slots if slot.field and not slot.developer]
        components = [component for field in fields for component in field.components or ()]
        return frozenset(component.def_num for component in components if component.accumulate)

    @cached_property
    def time(self) -> Slot | None:
        """The slot a compressed time counts on from, None where there is none.

        Raises NotCovered where it is not one whole number of at most 32 bits.
        """
        found = [slot for slot in self.slots if slot.num == TIMESTAMP_NUM]
        if len(found) > 1 or any(not slot.is_integer or slot.base.size > 4 for slot in found):
            raise NotCovered(f"compressed times after an unusual timestamp in {self.name}")
        return found[0] if found else None

    @cached_property
    def emissions(self) -> tuple[Emission, ...]:
        """All fields that a message of this shape may give, in fitdecode's order."""
        return tuple(emission for slot in self.slots for emission in self._emitted(slot))

    @cached_property
    def standard(self) -> dict[str | None, list[Emission]]:
        """The emissions that are no developer fields, by name."""
        found: dict[str | None, list[Emission]] = {}
        for emission in self.emissions:
            if not emission.is_developer:
                found.setdefault(emission.name, []).append(emission)
        return found

    def _emitted(self, slot: Slot) -> Iterator[Emission]:
        for field, alternatives, choice in self._resolved(slot.field):
            for component in (field.components or ()) if field else ():
                for target, others, which in self._resolved(self.message.fields[component.def_num]):
                    yield Emission(target, slot, component, alternatives or others, choice if alternatives else which)
        for field, alternatives, choice in self._resolved(slot.field):
            yield Emission(field, slot, None, alternatives, choice)

    def _resolved(self, field: Any) -> list[tuple[Any, Alternatives, int]]:
        """(field or subfield, all alternatives, which of them) for each that can come out."""
        if not field or not field.subfields:
            return [(field, (), -1)]
        alternatives = tuple(self._references(subfield) for subfield in field.subfields)
        possible = [(sub, alternatives, i) for i, sub in enumerate(field.subfields) if alternatives[i]]
        return [*possible, (field, alternatives if possible else (), -1)]

    def _references(self, subfield: Any) -> tuple[tuple[Slot, int], ...]:
        own = [slot for slot in self.slots if not slot.developer]
        return tuple((s, ref.raw_value) for ref in subfield.ref_fields for s in own if s.num == ref.def_num)


def _refusal(slots: tuple[Slot, ...], message: Any) -> str:
    """Why fitdecode may fail on a message with these slots, or its result depend on more than columns; "" if not."""
    accumulated: set[int] = set()
    for slot in slots:
        if slot.length == 0:
            return "a field of no length"
        components = _components(slot.field)
        if components and not (slot.base is BASE_TYPE_BYTE or slot.is_integer):
            return "components of an array, a text or a decimal number"
        if any(message.fields[component.def_num].subfields for component in _components_of_subfields(slot.field)):
            return "a subfield within a subfield"
        targets = {component.def_num for component in components if component.accumulate}
        if accumulated & targets:
            return "two fields that add to one"
        accumulated |= targets
    return ""


def _components(field: Any) -> list[Any]:
    return [*(field.components or ()), *_components_of_subfields(field)] if field else []


def _components_of_subfields(field: Any) -> list[Any]:
    subfields = (field.subfields or ()) if field else ()
    return [component for subfield in subfields for component in subfield.components or ()]


def shape_of(definition: bytes, developer: bool, developer_field: DeveloperField) -> Shape:
    """The shape that a definition message (without its header byte) gives."""
    if not developer:
        return _plain(definition)
    end = 5 + 3 * definition[4]
    plain = _plain(definition[:end])
    slots, at = list(plain.slots), plain.size
    for start in range(end + 1, len(definition), 3):
        num, size, index = definition[start : start + 3]
        field = developer_field(index, num)
        slots.append(Slot(num, at, field.type, size // field.type.size, field, True))
        at += slots[-1].length * field.type.size
    return Shape(plain.num, plain.endian, tuple(slots), at, _refusal(tuple(slots), plain.message))


@lru_cache(maxsize=1024)
def _plain(definition: bytes) -> Shape:
    endian = ">" if definition[1] else "<"
    num = int.from_bytes(definition[2:4], "big" if definition[1] else "little")
    message = profile.MESSAGE_TYPES.get(num)
    slots, at = [], 1
    for start in range(5, len(definition), 3):
        slots.append(_slot(definition[start : start + 3], at, message))
        at += definition[start + 1]
    return Shape(num, endian, tuple(slots), at, _refusal(tuple(slots), message))


def _slot(definition: bytes, at: int, message: Any) -> Slot:
    num, size, base_num = definition
    base = BASE_TYPES.get(base_num, BASE_TYPE_BYTE)
    if size % base.size:
        base = BASE_TYPE_BYTE
    field = message.fields.get(num) if message else None
    return Slot(num, at, base, size // base.size, field, False)
