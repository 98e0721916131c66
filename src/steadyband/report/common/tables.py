"""Audits as JSON lines, CSV or Parquet."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

from steadyband.audit import audit_to_dict, audit_to_flat
from steadyband.audit.model import Audit
from steadyband.ground.cells import defused
from steadyband.ground.plain import json_text, table_text

if TYPE_CHECKING:
    import polars as pl


def audits_as(audits: Sequence[Audit], format: str, *, positions: bool = True) -> bytes:
    """The audits in the output contract's "json" (one object a line), "csv" or "parquet" (one flat row a session, which never holds
    positions); `positions` False leaves every position out."""
    if format == "parquet":
        return _parquet(audits)
    return (_csv(audits) if format == "csv" else _json(audits, positions)).encode()


def _json(audits: Sequence[Audit], positions: bool) -> str:
    return "".join(
        json_text(json.dumps(audit_to_dict(audit, positions=positions), allow_nan=False, ensure_ascii=False)) + "\n"
        for audit in audits
    )


def _csv(audits: Sequence[Audit]) -> str:
    import polars as pl

    return csv_of(pl.DataFrame([audit_to_flat(audit) for audit in audits], infer_schema_length=None))


def _cell(text: str) -> str:
    return table_text(defused(text))


def csv_of(frame: pl.DataFrame) -> str:
    """A table as CSV, in UTF-8, whose texts no spreadsheet program runs as formulas (`cells`)."""
    import polars as pl

    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    return frame.with_columns(pl.col(name).map_elements(_cell, pl.String) for name in texts).write_csv()


def _parquet(audits: Sequence[Audit]) -> bytes:
    import polars as pl

    buffer = io.BytesIO()
    pl.DataFrame([audit_to_flat(audit) for audit in audits], infer_schema_length=None).write_parquet(buffer)
    return buffer.getvalue()
