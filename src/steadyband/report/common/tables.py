"""Audits as JSON lines, CSV or Parquet."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

from steadyband.audit.model import Audit
from steadyband.ground.cells import defused
from steadyband.ground.plain import json_text, table_text
from steadyband.ground.reader import Reader, reader, written_for
from steadyband.review.geo import geojson
from steadyband.told import audit_to_dict, audit_to_flat
from steadyband.told.columns import frame_of, session_columns
from steadyband.told.flat import Scalar

if TYPE_CHECKING:
    import polars as pl


def audits_as(
    audits: Sequence[Audit], format: str, *, positions: bool = True, readers: Sequence[Reader] | None = None
) -> bytes:
    """The audits in the output contract's "json" (one object a line), "csv" or "parquet" (one flat row a session, which never holds
    positions), or their surges and climbs as "geojson"; `positions` False leaves every position out. `readers` are those whom each audit's sentences are for; without
    them the reader in force."""
    for_whom = readers if readers is not None else [reader()] * len(audits)
    pairs = list(zip(audits, for_whom, strict=True))
    if format == "geojson":
        return (
            json_text(json.dumps(geojson(audits, positions=positions), allow_nan=False, ensure_ascii=False)) + "\n"
        ).encode()
    if format == "json":
        return "".join(_json(*pair, positions) for pair in pairs).encode()
    frame = frame_of([_row(*pair) for pair in pairs], session_columns(), dates=format != "csv")
    return csv_of(frame).encode() if format == "csv" else _parquet(frame)


def _json(audit: Audit, whom: Reader, positions: bool) -> str:
    with written_for(whom):
        found = audit_to_dict(audit, positions=positions)
    return json_text(json.dumps(found, allow_nan=False, ensure_ascii=False)) + "\n"


def _row(audit: Audit, whom: Reader) -> dict[str, Scalar]:
    with written_for(whom):
        return audit_to_flat(audit)


def _cell(text: str) -> str:
    return table_text(defused(text))


def csv_of(frame: pl.DataFrame) -> str:
    """A table as CSV, in UTF-8, whose texts no spreadsheet program runs as formulas (`cells`)."""
    import polars as pl

    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    return frame.with_columns(pl.col(name).map_elements(_cell, pl.String) for name in texts).write_csv()


def _parquet(frame: pl.DataFrame) -> bytes:
    buffer = io.BytesIO()
    frame.write_parquet(buffer)
    return buffer.getvalue()
