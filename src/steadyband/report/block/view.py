"""The block and the season in tables and figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from steadyband.athlete.condensed import Condensed
from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.ground.units import duration_text
from steadyband.report.block.figure import drift_figure, drift_table, durability_figure, durability_table
from steadyband.report.common.hours import bands_plot
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import (
    DASH,
    agreement_text,
    capital,
    counted,
    day_text,
    intent_text,
    loads_of,
    number_text,
    session_word,
    share_text,
    signed_text,
    verdict_label,
)
from steadyband.review.block_drift import DriftChart, LevelTrend, ratio_of
from steadyband.review.drift_sentences import series_words
from steadyband.review.model import PlanHours, Review, SportWeek, Week


def hours_plot(review: Review) -> Plot | None:
    """Hours per band, week by week, all sports together."""
    rows = [(_week_name(week), _bands(week)) for week in weeks_of(review)]
    return bands_plot(rows, "Hours in each band, week by week, all sports together.")


def weeks_of(review: Review) -> list[Week]:
    """The weeks of a block; it has no gaps."""
    return [week for week in review.weeks if isinstance(week, Week)]


def _week_name(week: Week) -> str:
    return f"Week {week.first_day.isocalendar().week}"


def _bands(week: Week) -> dict[str, int]:
    return {name: sum(item.hours.bands[name] for item in week.sports) for name in BAND_NAMES}


def weeks_table(review: Review) -> Table:
    """Each week and sport: time, heavy share, mean load against the target top, surges, heart rate against the test."""
    rows = tuple(row for week in weeks_of(review) for row in _week_rows(week))
    head = (
        "week",
        "sport",
        "active",
        "above the ceiling",
        "mean load of target top",
        "surges an hour",
        "heart rate against the test",
    )
    note = (
        "Above the ceiling: share of the banded time, all sessions. The last three columns are of endurance sessions; "
        "heart rate is compared with the test's at the same load, in steady stretches of ten minutes."
    )
    return Table("Week by week", head, rows, words=2, note=note)


def _week_rows(week: Week) -> Iterable[tuple[str, ...]]:
    if not week.sports:
        yield (_week_name(week), "no session", *(DASH,) * 5)
    for item in week.sports:
        yield (_week_name(week), item.sport.replace("_", " "), *_sport_cells(item))


def _sport_cells(item: SportWeek) -> tuple[str, ...]:
    return (
        duration_text(item.hours.active_s),
        share_text(item.heavy_share),
        DASH if item.load_ratio is None else number_text(100 * item.load_ratio, "%", 1),
        number_text(item.surges_per_hour, digits=1),
        signed_text(item.hr_shift, "bpm"),
    )


def sessions_table(sessions: Sequence[Condensed]) -> Table:
    """Every session of the block with its verdict."""
    head = ("session", "verdict", "meant as", "active", "mean load", "of target top")
    rows = tuple(_session_row(item) for item in sessions)
    return Table("Session by session", head, rows, words=3)


def _session_row(item: Condensed) -> tuple[str, ...]:
    audit, ratio = item.audit, ratio_of(item.audit)
    return (
        f"{day_text(item.day)}, {session_word(audit.info.sport)}",
        "asked about: hard?" if item.is_asked else _verdict(audit),
        intent_text(audit),
        duration_text(audit.seconds.active),
        loads_of(audit).text(audit.load.mean) if audit.load else DASH,
        DASH if ratio is None else number_text(100 * ratio, "%", 1),
    )


def _verdict(audit: Audit) -> str:
    """The verdict, and beside an unsure one how far the test agrees: "in band (unsure: agreement 62 %)"."""
    label, said = verdict_label(audit), agreement_text(audit)
    if "unsure" in label:
        return f"{label}, {said}"
    return f"{label} ({said})" if said.startswith("unsure") else label


def chart_plots(review: Review) -> tuple[tuple[str, Plot], ...]:
    """(title, figure) of each chart with a session in the block."""
    shown = [chart for chart in review.behind.charts if _reaches(chart, review)]
    trends = [trend for trend in review.behind.trends if trend.raised]
    return tuple(
        (_chart_title(chart), _chart_plot(chart, number, _trend_of(chart, trends)))
        for number, chart in enumerate(shown, 1)
    )


def _trend_of(chart: DriftChart, trends: Sequence[LevelTrend]) -> LevelTrend | None:
    key = (chart.sport, chart.channel)
    return next((item for item in trends if (item.sport, item.channel) == key), None)


def _reaches(chart: DriftChart, review: Review) -> bool:
    return len(chart.sessions) > 1 and chart.sessions[-1].day >= review.first_day


def _chart_title(chart: DriftChart) -> str:
    return (
        f"{series_words(chart.sport, chart.channel)}, {counted(len(chart.sessions), 'session')} since {chart.started}"
    )


def _chart_plot(chart: DriftChart, number: int, trend: LevelTrend | None) -> Plot:
    words = f"{_chart_title(chart)}: mean load over the target top, session after session; the sentences above say the same."
    return plot(f"chart-{number}", drift_figure(chart, trend), words, drift_table(chart, trend))


def durability_plot(review: Review) -> Plot | None:
    """Heart-rate drift against length; None with fewer than three sessions."""
    if sum(len(row.points) for row in review.durability) < 3:
        return None
    words = "Heart-rate drift against session length: " + " ".join(row.text for row in review.durability)
    return plot(
        "durability",
        durability_figure(review.durability, review.athlete.settings.drift.hr_drift_percent),
        words,
        durability_table(review.durability),
    )


def distribution_table(review: Review) -> Table | None:
    """Shares over three domains and the index."""
    if not review.distributions:
        return None
    head = ("sport", "upper border", "banded time", "low", "middle", "high", "polarization index")
    rows = tuple(
        (
            capital(name.replace("_", " ")),
            "upper threshold" if item.by_threshold else "ceiling",
            duration_text(item.seconds),
            share_text(item.low),
            share_text(item.middle),
            share_text(item.high),
            number_text(item.index, digits=2),
        )
        for name, item in review.distributions.items()
    )
    note = "Low ends at the floor (the first rise); middle ends at the upper border. Polarization index: Treff et al. 2019."
    return Table("Intensity over three domains", head, rows, words=2, note=note)


def fit_table(review: Review) -> Table | None:
    """The intervals behind the check of the tests."""
    rows = tuple(
        (
            capital(fit.sport),
            item.place,
            number_text(item.sessions),
            number_text(item.stretches),
            signed_text(item.mean, "bpm"),
            f"{signed_text(item.low)} to {signed_text(item.high, 'bpm')}",
            number_text(item.hot) if item.known_temperature else "no temperature",
        )
        for fit in review.behind.fits
        for item in fit.intervals
    )
    head = (
        "sport",
        "where",
        "sessions",
        "steady stretches",
        "heart rate against the test",
        "95 % interval",
        "hot days among them",
    )
    return Table("Heart rate at the same load", head, rows, words=2) if rows else None


def plan_table(weeks: Sequence[Week]) -> Table | None:
    """Hours planned and done, line by line; None without a plan."""
    rows = tuple((_week_name(week), *plan_cells(item)) for week in weeks for item in week.plan)
    return Table("Plan and done", ("week", "sport", "band", "planned", "done", "kept"), rows, words=3) if rows else None


def plan_cells(item: PlanHours) -> tuple[str, ...]:
    """One planned line as cells: sport, band, planned, done, kept."""
    planned = duration_text(3600 * item.planned)
    return (
        item.sport,
        "all" if item.band == "total" else item.band,
        f"at most {planned}" if item.at_most else planned,
        duration_text(3600 * item.done),
        "yes" if item.met else "no",
    )
