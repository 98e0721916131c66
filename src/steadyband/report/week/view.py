"""The week in tables and figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from steadyband.audit.model import BAND_NAMES, Audit, BandTime
from steadyband.ground.settings import Settings
from steadyband.ground.units import brief_text, duration_text
from steadyband.report.common.evidence import slope_text
from steadyband.report.common.hours import WEEK, bands_plot
from steadyband.report.common.view import Plot, Table
from steadyband.report.common.words import (
    DASH,
    capital,
    counted,
    hour_of,
    loads_of,
    number_text,
    session_title,
    session_word,
    setting_text,
    share_text,
    signed_text,
    verdict_label,
    window_word,
    zero_or_time,
)
from steadyband.report.session.view import repairs_text
from steadyband.review.model import Review, SportHours


def tables(review: Review) -> dict[str, Table | None]:
    """Every table of the week page by name; None where there is nothing to say."""
    return {
        "sports": sports_table(review),
        "plan": plan_table(review),
        "sessions": sessions_table(review),
        "surges": surges_table(review),
        "drift": drift_table(review),
        "quality": quality_table(review),
        "settings": settings_table(review.athlete.settings),
    }


def titles(audits: Sequence[Audit]) -> tuple[str, ...]:
    """A title for each session, with the time of day where two of one sport share a day."""
    plain = [session_title(audit) for audit in audits]
    return tuple(
        f"{title} {hour_of(audit)}" if plain.count(title) > 1 else title
        for title, audit in zip(plain, audits, strict=True)
    )


def hours_plot(review: Review) -> Plot | None:
    """Hours per band: each session, then each sport's week."""
    banded = [audit for audit in review.audits if audit.bands]
    rows: list[tuple[str, Mapping[str, int]]] = [
        (title, {name: band.seconds for name, band in (audit.bands or {}).items()})
        for title, audit in zip(titles(banded), banded, strict=True)
    ]
    rows += [(f"{WEEK}{_all_of(item)}", item.bands) for item in review.sports if sum(item.bands.values())]
    return bands_plot(rows, "Hours in each band, session by session and for the week.")


def _all_of(item: SportHours) -> str:
    return counted(item.sessions, session_word(item.sport))


def sports_table(review: Review) -> Table:
    """Time per band and sport over the week."""
    bands = _bands_shown(review)
    rows = tuple(_sport_row(item, bands) for item in review.sports)
    head = ("week", "active", *bands, "without a band")
    return Table("The week by sport", head, rows, note="All sessions count here, whatever they were for.")


def _sport_row(item: SportHours, bands: Sequence[str]) -> tuple[str, ...]:
    times = [zero_or_time(item.bands.get(name, 0)) for name in bands]
    return (_all_of(item), duration_text(item.active_s), *times, zero_or_time(item.not_banded_s))


def _bands_shown(review: Review) -> list[str]:
    severe = any(item.bands.get("severe") for item in review.sports)
    return [name for name in BAND_NAMES if name != "severe" or severe]


def plan_table(review: Review) -> Table | None:
    """Hours planned and done; None without a plan."""
    if not review.plan:
        return None
    rows = tuple(
        (
            f"{item.sport}, {'in all' if item.band == 'total' else item.band}",
            "as planned" if item.met else "not as planned",
            f"{'at most ' if item.at_most else ''}{duration_text(3600 * item.planned)}",
            zero_or_time(3600 * item.done),
            zero_or_time(3600 * item.unknown),
        )
        for item in review.plan
    )
    head = ("hours", "kept", "planned", "done", "without a band, may belong here")
    return Table("Against the plan", head, rows, words=2)


def sessions_table(review: Review) -> Table:
    """Time and share per band, session by session."""
    bands = _bands_shown(review)
    rows = tuple(
        (title, verdict_label(audit), duration_text(audit.seconds.active), *_band_cells(audit, bands), _mean(audit))
        for title, audit in zip(titles(review.audits), review.audits, strict=True)
    )
    head = ("session", "verdict", "active", *bands, "mean load")
    return Table("Session by session", head, rows, words=2, note="Shares are of active time with a measured load.")


def _band_cells(audit: Audit, bands: Sequence[str]) -> list[str]:
    found = audit.bands or {}
    return [_band_cell(found[name]) if name in found else DASH for name in bands]


def _band_cell(band: BandTime) -> str:
    return f"{duration_text(band.seconds)}, {share_text(band.share)}" if band.seconds else "0"


def _mean(audit: Audit) -> str:
    return loads_of(audit).text(audit.load.mean) if audit.load else DASH


def surges_table(review: Review) -> Table | None:
    """Surges, session by session; None where no session has a load that shows them."""
    shown = [
        (title, audit)
        for title, audit in zip(titles(review.audits), review.audits, strict=True)
        if audit.surges is not None
    ]
    if not shown:
        return None
    head = (
        "session",
        "where",
        "surges",
        "micro",
        "sustained",
        "per active hour",
        "time above",
        "share",
        "work above",
        "forced",
    )
    limits = review.athlete.settings.surges
    note = (
        f"In a surge the {limits.window_s}-s mean adds up to at least {limits.dose_s:g} s' worth of the ceiling above it; up to "
        f"{limits.micro_max_s} s above it is a micro-surge, more a sustained effort. "
        "Forced: the hill was too steep for the lowest gear."
    )
    if any(audit.surges and audit.surges.by_cause.get("unknown") for _, audit in shown):
        note += " Unknown: no altitude to tell the place from."
    return Table("Surges above the ceiling", head, tuple(_surge_row(*item) for item in shown), words=2, note=note)


def _surge_row(title: str, audit: Audit) -> tuple[str, ...]:
    surges = audit.surges
    if surges is None:
        return (title,)
    causes = sorted(((count, cause) for cause, count in surges.by_cause.items() if count), reverse=True)
    return (
        title,
        ", ".join(f"{cause} {count}" for count, cause in causes[:3]) or DASH,
        number_text(surges.count),
        number_text(surges.micro),
        number_text(surges.sustained),
        number_text(surges.per_hour, digits=1 if 0 < surges.per_hour < 10 else 0),
        brief_text(surges.seconds_above),
        share_text(surges.share_above),
        number_text(surges.work_above_kj, "kJ", 1 if surges.work_above_kj else 0),
        "not judged" if surges.forced is None else number_text(surges.forced),
    )


def drift_table(review: Review) -> Table | None:
    """Drift, session by session; None where nothing could be judged."""
    pairs = zip(titles(review.audits), review.audits, strict=True)
    rows = tuple(_drift_row(title, audit) for title, audit in pairs if audit.drift is not None)
    if not rows:
        return None
    head = (
        "session",
        "longest above the ceiling",
        "all above",
        "top of the band",
        "trend an hour",
        "range of it",
        "heart-rate drift",
        "heart rate above the test",
    )
    limits = review.athlete.settings.drift
    note = (
        f"Above the ceiling: the {window_word(limits.window_s)} mean load was at or over it. Top of the band: that mean lay between "
        f"target top and ceiling, which is no fault. Heart-rate drift over {limits.hr_drift_percent:g} % is flagged by common practice; "
        "no published cut-off exists, and heat, still air, lack of fluid, fatigue and duration all raise it."
    )
    return Table("Drift", head, rows, note=note)


def _drift_row(title: str, audit: Audit) -> tuple[str, ...]:
    drift = audit.drift
    if drift is None:
        return (title,)
    above = drift.hr_above_test_s
    low, high = drift.load_slope_range or (None, None)
    return (
        title,
        zero_or_time(drift.load_longest_s),
        zero_or_time(drift.load_drifted_s),
        zero_or_time(drift.top_of_band_s),
        slope_text(audit, drift.load_slope_per_h),
        DASH if low is None else f"{slope_text(audit, low)} to {slope_text(audit, high)}",
        signed_text(drift.hr_drift_percent, "%", 1),
        DASH if above is None else zero_or_time(above),
    )


def quality_table(review: Review) -> Table:
    """What was read, dropped, held and repaired."""
    rows = tuple(_quality_row(title, audit) for title, audit in zip(titles(review.audits), review.audits, strict=True))
    head = ("session", "file", "repaired", "records", "dropped", "held", "gap", "unmeasured")
    return Table("What was read", head, rows, words=3)


def _quality_row(title: str, audit: Audit) -> tuple[str, ...]:
    quality = audit.quality
    return (
        title,
        audit.info.file,
        "; ".join(repairs_text(audit)) or DASH,
        number_text(quality.records),
        number_text(quality.dropped),
        zero_or_time(quality.held_s),
        zero_or_time(audit.seconds.gap),
        zero_or_time(audit.seconds.unmeasured),
    )


def settings_table(settings: Settings) -> Table:
    """Every setting with its value, default, meaning and source; changed ones are marked."""
    rows = tuple(
        (
            name,
            capital(meaning),
            source,
            setting_text(value, unit) + (" (changed)" if value != default else ""),
            setting_text(default, unit),
        )
        for name, value, default, unit, meaning, source in settings.rows()
    )
    note = "Sources named S and a number are listed in the documentation. Change a setting in athlete.toml."
    return Table("Settings used", ("setting", "meaning", "source", "value", "default"), rows, words=3, note=note)
