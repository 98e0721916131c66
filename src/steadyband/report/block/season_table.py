"""All sessions of a folder as one table, for other programs."""

from __future__ import annotations

import io
from collections.abc import Sequence

from steadyband.athlete.condensed import Condensed
from steadyband.report.common.tables import csv_of
from steadyband.review.frames import sessions_frame


def season_as(sessions: Sequence[Condensed], format: str) -> bytes:
    """One row a session as "csv" or "parquet"."""
    frame = sessions_frame(sessions)
    if format == "csv":
        return csv_of(frame).encode()
    buffer = io.BytesIO()
    frame.write_parquet(buffer)
    return buffer.getvalue()
