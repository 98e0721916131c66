"""Audits as JSON lines, CSV or Parquet."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence

from steadyband.audit import audit_to_dict, audit_to_flat
from steadyband.audit.model import Audit


def audits_as(audits: Sequence[Audit], format: str, *, positions: bool = True) -> bytes:
    """The audits in the output contract's "json" (one object a line), "csv" or "parquet" (one flat row a session, which never holds
    positions); `positions` False leaves every position out."""
    if format == "parquet":
        return _parquet(audits)
    return (_csv(audits) if format == "csv" else _json(audits, positions)).encode()


def _json(audits: Sequence[Audit], positions: bool) -> str:
    return "".join(
        json.dumps(audit_to_dict(audit, positions=positions), allow_nan=False, ensure_ascii=False) + "\n"
        for audit in audits
    )


def _csv(audits: Sequence[Audit]) -> str:
    import polars as pl

    return pl.DataFrame([audit_to_flat(audit) for audit in audits], infer_schema_length=None).write_csv()


def _parquet(audits: Sequence[Audit]) -> bytes:
    import polars as pl

    buffer = io.BytesIO()
    pl.DataFrame([audit_to_flat(audit) for audit in audits], infer_schema_length=None).write_parquet(buffer)
    return buffer.getvalue()
