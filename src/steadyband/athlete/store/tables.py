"""The tables of the store: outcomes to frames, and frames back."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.outline import Outline
from steadyband.athlete.store import codec
from steadyband.athlete.store.keys import Inputs
from steadyband.athlete.work import Fault, Outcome, Product
from steadyband.audit.model import Audit, Traces

if TYPE_CHECKING:
    import polars as pl

SEPARATOR = "\x1f"
BASES_KEPT = 2
"""Sets of inputs (settings, versions) whose results are kept for one content: the last ones."""
TEXTS = ("sha256", "base", "context", "sport", "condensed", "outline", "detail", "fault")
NUMBERS = ("number", "count", "written", "row")
INDEX = ("path", "inside", "size", "mtime_ns", "sha256")
Entry = tuple[str, str, int, int, str]


def session_columns() -> dict[str, Any]:
    """Names and types of the columns of `sessions`."""
    import polars as pl

    texts: dict[str, Any] = dict.fromkeys(TEXTS, pl.String)
    return texts | dict.fromkeys(NUMBERS, pl.Int64) | {"day": pl.Date, "start_s": pl.Float64, "end_s": pl.Float64}


def session_rows(outcomes: Sequence[Outcome], detail: str, inputs: Inputs, now_ns: int) -> list[dict[str, Any]]:
    """One row a session, and one for each content that could not be used."""
    rows: list[dict[str, Any]] = []
    number_in_detail = 0
    for outcome in outcomes:
        common = {"sha256": outcome.sha256, "base": inputs.base, "written": now_ns, "count": len(outcome.products)}
        for number, product in enumerate(outcome.products):
            place = {"number": number, "detail": detail, "row": number_in_detail}
            rows.append(common | place | _session_row(product, inputs))
            number_in_detail += 1
        if outcome.fault:
            rows.append(common | {"number": 0, "fault": codec.dump(outcome.fault, Fault)})
    return rows


def _session_row(product: Product, inputs: Inputs) -> dict[str, Any]:
    info = product.audit.info
    day = info.local_start.date()
    return {
        "context": inputs.of_session(info.sport, day, info.file),
        "sport": info.sport,
        "day": day,
        "start_s": product.outline.start_s,
        "end_s": product.outline.end_s,
        "condensed": codec.dump(product.condensed, Condensed),
        "outline": codec.dump(product.outline, Outline),
        "fault": "",
    }


def sessions_frame(rows: Sequence[dict[str, Any]]) -> pl.DataFrame:
    """Rows as a frame."""
    import polars as pl

    return pl.DataFrame(list(rows), schema=session_columns())


def detail_frame(products: Sequence[tuple[Outcome, int, Product]]) -> pl.DataFrame:
    """One row a session: its audit, and its one-second rows as lists."""
    import polars as pl

    audits = [product.audit for _, _, product in products]
    lists = {field.name: _lists([getattr(audit.traces, field.name) for audit in audits]) for field in _trace_fields()}
    return pl.DataFrame(
        {
            "sha256": [outcome.sha256 for outcome, _, _ in products],
            "number": [number for _, number, _ in products],
            "start": [audit.info.start for audit in audits],
            "audit": [codec.dump(audit, Audit) for audit in audits],
            **lists,
        }
    )


def _trace_fields() -> tuple[dataclasses.Field[Any], ...]:
    return dataclasses.fields(Traces)


def _lists(arrays: Sequence[Any]) -> pl.Series:
    """Arrays of one type as a column of lists; None stays None."""
    import polars as pl

    known = [array for array in arrays if array is not None]
    inner = pl.Series(known[0]).dtype if known else pl.Float64
    return pl.Series([None if array is None else pl.Series(array) for array in arrays], dtype=pl.List(inner))


def traces_at(frame: pl.DataFrame, row: int) -> Traces:
    """The one-second rows of one session."""
    lists = {field.name: frame[field.name][row] for field in _trace_fields()}
    arrays: dict[str, Any] = {name: None if part is None else np.array(part.to_numpy()) for name, part in lists.items()}
    return Traces(**arrays)


def index_columns() -> dict[str, Any]:
    """Names and types of the columns of `index`."""
    import polars as pl

    numbers = ("size", "mtime_ns", "written")
    return {name: pl.Int64 if name in numbers else pl.String for name in (*INDEX, "written")}


def index_frame(entries: Sequence[Entry], now_ns: int) -> pl.DataFrame:
    """Which content stands in which file: (path, inside, size, time of change, content)."""
    import polars as pl

    rows = [(*entry, now_ns) for entry in entries]
    return pl.DataFrame(rows, schema=index_columns(), orient="row")


def last_written(frames: Iterable[pl.DataFrame]) -> int:
    """When the newest row was written [ns]; 0 without one. New rows count as later, even with the clock set back."""
    return max((int(frame["written"].max() or 0) for frame in frames if len(frame)), default=0)  # type: ignore[arg-type]


def hashes(frames: Iterable[pl.DataFrame]) -> dict[tuple[str, str], tuple[int, int, str]]:
    """(path, inside) -> (size, time of change, content), the last one written of each."""
    whole = put_together_index(list(frames))
    if whole is None:
        return {}
    return {(path, inside): (size, at, sha) for path, inside, size, at, sha in whole.select(INDEX).iter_rows()}


def put_together_index(frames: Sequence[pl.DataFrame]) -> pl.DataFrame | None:
    """The last entry of each file."""
    import polars as pl

    if not frames:
        return None
    return pl.concat(frames).sort("written").unique(("path", "inside"), keep="last", maintain_order=True)


def newest(frames: Iterable[pl.DataFrame], base: str) -> pl.DataFrame | None:
    """The rows made from the same inputs, the last written of each session."""
    import polars as pl

    fitting = [frame.filter(pl.col("base") == base) for frame in frames]
    return _last_written(pl.concat(fitting)) if fitting else None


def _last_written(frame: pl.DataFrame) -> pl.DataFrame:
    import polars as pl

    last = pl.col("written") == pl.col("written").max().over("sha256", "base")
    return frame.filter(last).unique(("sha256", "base", "number"), keep="last").sort("sha256", "base", "number")


def put_together_sessions(frames: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """The last rows of each content and inputs, for the last inputs of each content."""
    import polars as pl

    whole = _last_written(pl.concat(frames))
    rank = pl.col("written").rank("dense", descending=True).over("sha256")
    return whole.filter(rank <= BASES_KEPT)


def by_content(frame: pl.DataFrame | None) -> dict[str, list[dict[str, Any]]]:
    """The rows of each content, in order of its sessions."""
    found: dict[str, list[dict[str, Any]]] = {}
    for row in frame.iter_rows(named=True) if frame is not None else ():
        found.setdefault(row["sha256"], []).append(row)
    return found
