"""The table behind a figure over many sessions: block chart, durability, and rows of small ribbons."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from steadyband.report.common.view import Table
from steadyband.report.common.words import (
    DASH,
    capital,
    day_text,
    number_text,
    signed_text,
    verdict_label,
)
from steadyband.review.block_drift import DriftChart, LevelTrend
from steadyband.review.block_model import Durability


def drift_table(chart: DriftChart, trend: LevelTrend | None = None) -> Table:
    """Every session of a block chart: its mean load, the reference, the rising sum and its limit, and the trend where drawn."""
    fitted = {} if trend is None else {
        item.audit.info.start: float(value) for item, value in zip(trend.sessions, trend.fitted, strict=True)
    }  # fmt: skip
    rows = tuple(
        (
            day_text(item.day),
            verdict_label(item.audit),
            _percent(float(chart.ratio[number])),
            _percent(float(chart.reference[number])),
            *([] if chart.is_open else [_three(chart.upper[number]), _limit(chart, number)]),
            *([] if trend is None else [_percent(fitted.get(item.audit.info.start, float("nan")))]),
        )
        for number, item in enumerate(chart.sessions)
    )
    head = ["session", "verdict", "mean load of target top", "reference"]
    head += [] if chart.is_open else ["rising sum", "limit"]
    head += [] if trend is None else ["trend"]
    return Table("The figure as a table", tuple(head), rows, words=2)


def _percent(ratio: float) -> str:
    return number_text(100 * ratio, "%", 1)


def _three(value: float) -> str:
    return number_text(float(value), digits=3)


def _limit(chart: DriftChart, number: int) -> str:
    return _three(chart.limit_up[number]) if np.isfinite(chart.upper[number]) else DASH


def durability_table(rows: Sequence[Durability]) -> Table:
    """Every dot of the durability figure: sport and place, hours active, heart-rate drift."""
    cells = tuple(
        (capital(row.sport), number_text(hours, "h", 1), signed_text(drift, "%", 1))
        for row in rows
        for hours, drift in row.points
    )
    return Table("The figure as a table", ("sport", "hours active", "heart-rate drift"), cells)
