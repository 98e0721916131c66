"""From columns to what the session reader works on: records as columns, other messages as tables that decode on demand."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from steadyband.recording.fit.columns import FitFile
from steadyband.recording.fit.profile import Emission
from steadyband.recording.fit.table import Table
from steadyband.recording.model import FloatArray


@dataclass(frozen=True, slots=True)
class Records:
    """Numbers of `count` records in file order, by field name; NaN where a record has none.

    `lists` counts the values of a field that are lists of numbers and not one, which no record of a session has.
    """

    count: int = 0
    columns: Mapping[str, FloatArray] = field(default_factory=dict)
    lists: Mapping[str, int] = field(default_factory=dict)

    @classmethod
    def of_rows(cls, rows: list[dict[str, float]], lists: Mapping[str, int] | None = None) -> Records:
        """The same from one table per record."""
        names = dict.fromkeys(name for row in rows for name in row)
        columns = {name: np.array([row.get(name, np.nan) for row in rows], dtype=np.float64) for name in names}
        return cls(len(rows), columns, dict(sorted((lists or {}).items())))

    def __len__(self) -> int:
        return self.count

    def column(self, name: str) -> FloatArray:
        """Numbers [count] of a field, all NaN where no record has it."""
        return self.columns[name] if name in self.columns else np.full(self.count, np.nan)

    def taken(self, places: slice | np.ndarray[Any, Any]) -> Records:
        """The records at some places, in their order."""
        columns = {name: values[places] for name, values in self.columns.items()}
        return Records(len(np.arange(self.count)[places]), columns, self.lists)


class Message(Mapping[str, Any]):
    """One message as a table of the fields that have a value, each column decoded when first asked for."""

    def __init__(self, table: Table, row: int) -> None:
        self._table = table
        self._row = row

    def __getitem__(self, name: str) -> Any:
        value = self._table.values(name)[self._row]
        if value is None:
            raise KeyError(name)
        return value

    def __iter__(self) -> Iterator[str]:
        return (name for name in self._table.names() if self._table.values(name)[self._row] is not None)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def __bool__(self) -> bool:
        return any(True for _ in self)

    def __repr__(self) -> str:
        return repr(dict(self))


def records_of(
    file: FitFile,
    names: Collection[str],
    developer_name: Callable[[Emission], str | None],
    developer_names: Iterable[str],
) -> Records:
    """The records of a file: standard fields `names`, and developer fields that `developer_name` knows under its name.

    Only fields of which any record has a finite number are kept.
    """
    table = file.tables.get("record")
    if table is None:
        return Records()
    columns = {name: table.numbers(name) for name in names}
    known = {id(e): developer_name(e) for block in table.blocks for e in table.emissions(block) if e.is_developer}
    for wanted in developer_names:
        if wanted in known.values():
            columns[wanted] = table.developer_numbers(lambda e, wanted=wanted: known.get(id(e)) == wanted)  # type: ignore[misc]
    found = {name: values for name, values in columns.items() if not np.isnan(values).all()}
    lists = {name: table.lists(name) for name in sorted(names)}
    return Records(len(table), found, {name: count for name, count in lists.items() if count})


def messages_of(file: FitFile, name: str) -> list[Mapping[str, Any]]:
    """All messages of one kind; the first stands on its own, since of many kinds only that one is asked."""
    table = file.tables.get(name)
    if table is None:
        return []
    return [Message(table.first(), 0), *(Message(table, row) for row in range(1, len(table)))]


def file_id_of(file: FitFile) -> Mapping[str, Any]:
    """The first file_id message with any value."""
    return next((message for message in messages_of(file, "file_id") if message), {})
