"""The columns of a table of sessions and their kinds, read off the contract's own schema: the same whatever the sessions carry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from steadyband.audit.model import BAND_NAMES
from steadyband.told.flat import BAND_KEYS, BLOCKS, PLAIN, RANGES
from steadyband.told.output import contract_schema

if TYPE_CHECKING:
    from polars import DataFrame
    from polars.datatypes import DataType

Kind = Literal["text", "whole", "number", "truth", "date", "time", "local time"]
"""What a column holds; "time" is an instant in UTC, "local time" a clock's reading without its zone."""
_OF_TYPE: Mapping[str, Kind] = {"integer": "whole", "number": "number", "boolean": "truth", "string": "text"}
_OF_FORMAT: Mapping[str, Kind] = {"date": "date", "date-time": "time"}


@cache
def session_columns() -> dict[str, Kind]:
    """Every column of `audit_to_flat` in its order, with its kind.

    >>> kinds = session_columns()
    >>> kinds["local_date"], kinds["start"], kinds["zones_floor"], kinds["surges_count"], kinds["in_band"]
    ('date', 'time', 'number', 'whole', 'truth')
    """
    schema = contract_schema()
    found = {key: _kind(_inside(schema, key, schema), schema) for key in PLAIN} | {"local_start": "local time"}
    for block, keys in BLOCKS.items():
        around = _inside(schema, block, schema)
        found |= {f"{block}_{key}": _kind(_inside(around, key, schema), schema) for key in keys}
    for block, key in RANGES:
        found |= _pair(f"{block}_{key.removesuffix('_range')}")
    bands = _inside(schema, "bands", schema)
    for name in BAND_NAMES:
        around = _inside(bands, name, schema)
        found |= {f"{name}_{key}": _kind(_inside(around, key, schema), schema) for key in BAND_KEYS}
        found |= _pair(f"{name}_share")
    rest: dict[str, Kind] = {"in_band": "truth", "agreement": "number", "findings": "text", "findings_text": "text"}
    return {**found, **rest, "climbs": "whole", "notes": "text", "temperature_c": "number"}


def _pair(stem: str) -> dict[str, Kind]:
    return {f"{stem}_low": "number", f"{stem}_high": "number"}


def _resolved(node: Any, schema: Mapping[str, Any]) -> Any:
    """A node of the schema with references followed and "or null" taken off."""
    while "$ref" in node or "anyOf" in node:
        if "$ref" in node:
            node = schema["$defs"][node["$ref"].rsplit("/", 1)[1]]
        else:
            node = next(part for part in node["anyOf"] if part.get("type") != "null")
    return node


def _inside(node: Any, key: str, schema: Mapping[str, Any]) -> Any:
    around = _resolved(node, schema)
    return around["properties"][key] if "properties" in around else around["additionalProperties"]


def _kind(node: Any, schema: Mapping[str, Any]) -> Kind:
    found = _resolved(node, schema)
    types = found.get("type", "string")
    name = next(part for part in ([types] if isinstance(types, str) else types) if part != "null")
    return _OF_FORMAT.get(found.get("format", ""), _OF_TYPE[name])


def frame_of(rows: Iterable[Mapping[str, Any]], columns: Mapping[str, Kind], *, dates: bool = True) -> DataFrame:
    """Rows as a polars frame with exactly these columns, in this order; no rows give the columns all the same.

    `dates` False keeps dates and times as the texts of the contract, as CSV has them.
    """
    import polars as pl

    cells = {
        name: [_cell(row.get(name), kind if dates else "text") for row in found]
        for found in [list(rows)]
        for name, kind in columns.items()
    }
    return pl.DataFrame(cells, schema={name: _type(kind, dates) for name, kind in columns.items()})


def _cell(value: Any, kind: Kind) -> Any:
    if value is None or not isinstance(value, str):
        return value
    if kind == "date":
        return date.fromisoformat(value)
    if kind == "time":
        return datetime.fromisoformat(value)
    return datetime.fromisoformat(value).replace(tzinfo=None) if kind == "local time" else value


def _type(kind: Kind, dates: bool) -> DataType:
    import polars as pl

    timed: dict[Kind, Any] = {
        "date": pl.Date(),
        "time": pl.Datetime("us", "UTC"),
        "local time": pl.Datetime("us"),
    }
    if kind in timed:
        return timed[kind] if dates else pl.String()
    plain: dict[Kind, Any] = {"text": pl.String(), "whole": pl.Int64(), "number": pl.Float64(), "truth": pl.Boolean()}
    return plain[kind]  # type: ignore[no-any-return]
