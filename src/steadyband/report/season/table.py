"""The season as a table: hours of each week for its page, a row a session for other programs."""

from __future__ import annotations

import io
from collections.abc import Sequence

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.model import SessionLabel
from steadyband.audit.model import BAND_NAMES
from steadyband.ground.units import duration_text
from steadyband.report.common.tables import csv_of
from steadyband.report.common.view import Table
from steadyband.report.common.words import number_text
from steadyband.review.frames import sessions_frame
from steadyband.review.model import Review, Week


def season_table(season: Review) -> Table:
    """Hours per band of each week, latest first."""
    head = ("week", "active", *BAND_NAMES, "without a band", "judged", "held")
    rows = tuple(
        (
            week.name,
            duration_text(week.active_s),
            *(duration_text(sum(item.bands[name] for item in week.hours)) for name in BAND_NAMES),
            duration_text(sum(item.not_banded_s for item in week.hours)),
            number_text(week.judged),
            number_text(week.held),
        )
        for week in reversed(season.weeks)
        if isinstance(week, Week) and week.sessions
    )
    return Table("The season in numbers", head, rows)


def season_as(sessions: Sequence[Condensed], format: str, labels: Sequence[SessionLabel] = ()) -> bytes:
    """One row a session as "csv" or "parquet"."""
    frame = sessions_frame(sessions, labels, dates=format != "csv")
    if format == "csv":
        return csv_of(frame).encode()
    buffer = io.BytesIO()
    frame.write_parquet(buffer)
    return buffer.getvalue()
