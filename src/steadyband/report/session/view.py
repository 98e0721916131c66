"""One session in words, tables and figures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from steadyband.audit.model import BAND_NAMES, Audit, BandTime, Finding
from steadyband.ground.units import brief_text, clock_text, distance_text, duration_text, height_text, length_text
from steadyband.report.common.evidence import evidence_rows, places, settings_text
from steadyband.report.common.page_ribbon import PageRibbon, page_ribbon
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import (
    CHANNEL_WORDS,
    DASH,
    agreement_text,
    clock_of,
    compared_text,
    counted,
    day_text,
    hour_of,
    intent_text,
    label_of,
    loads_of,
    number_text,
    sentence,
    session_word,
    share_range_text,
    share_text,
    verdict_label,
    zero_or_time,
)
from steadyband.report.session.figure import is_cut, load_span, session_figure, session_table
from steadyband.review.sentences import repair_words
from steadyband.told.findings import finding_sentence, is_unsure_of, mean_text, words_of
from steadyband.told.notes import quality_notes
from steadyband.told.repeats import minutes_text, repeats_text


@dataclass(frozen=True, slots=True)
class FindingView:
    """One finding with its evidence."""

    label: str
    text: str
    agreement: str
    rows: tuple[tuple[str, str], ...]
    places: tuple[str, ...]
    settings: str


@dataclass(frozen=True, slots=True)
class SessionView:
    """One session, in the list of ribbons and in its own section."""

    id: str
    day: str
    title: str
    kind: str
    hour: str
    length: str
    began: str
    intent: str
    file: str
    verdict: str
    amiss: bool
    agreement: str
    unsure: bool
    line: str
    compared: str
    ribbon: PageRibbon
    plot: Plot | None
    plot_note: str
    findings: tuple[FindingView, ...]
    tables: tuple[Table, ...]


def session_view(audit: Audit, number: int, longest_s: int) -> SessionView:
    """Everything the page says about one session; `number` counts from 1, `longest_s` ends the shared time axis."""
    name = f"session-{number}"
    word = session_word(audit.info.sport)
    day = day_text(audit.info.local_start.date())
    return SessionView(
        id=name,
        day=day,
        title=f"{day}, {word}",
        kind=word,
        hour=hour_of(audit),
        length=duration_text(audit.seconds.active),
        began=f"{hour_of(audit)}, {duration_text(audit.seconds.active)} active",
        intent=intent_text(audit),
        file=f"{audit.info.name}, {audit.info.file}" if audit.info.name else audit.info.file,
        verdict=verdict_label(audit),
        amiss=audit.verdict.in_band is False,
        agreement=agreement_text(audit),
        unsure="unsure" in agreement_text(audit) or any(is_unsure_of(audit, item) for item in audit.verdict.findings),
        line=detail_line(audit),
        compared=compared_text(audit),
        ribbon=page_ribbon(audit, f"{name}-ribbon", ribbon_words(audit), longest_s),
        plot=_load_plot(audit, name),
        plot_note=_plot_note(audit),
        findings=tuple(_finding(audit, item) for item in audit.verdict.findings),
        tables=tuple(_tables(audit)),
    )


def facts_text(audit: Audit) -> str:
    """ "ride, 07:31, 1 h 31 active"."""
    return f"{session_word(audit.info.sport)}, {hour_of(audit)}, {duration_text(audit.seconds.active)}"


def detail_line(audit: Audit) -> str:
    """The verdict's one line beside the ribbon: the numbers of its first two findings, or what held."""
    if audit.repeats is not None:
        return repeats_text(audit)
    told = [words_of(item.code).short(audit) for item in audit.verdict.findings]
    kept = [text for text in told if text][:2]
    return sentence("; ".join(kept) if kept else mean_text(audit))


def ribbon_words(audit: Audit) -> str:
    """The ribbon in a sentence, for those who do not see it."""
    parts = [f"{name} {duration_text(band.seconds)}" for name, band in band_items(audit) if band.seconds]
    surges = counted(audit.surges.count, "surge") if audit.surges else ""
    told = ", ".join(part for part in [*parts, surges] if part) or "no bands"
    return f"Ribbon of {day_text(audit.info.local_start.date())}, {facts_text(audit)}: {told}. {verdict_label(audit)}."


def band_items(audit: Audit) -> list[tuple[str, BandTime]]:
    """(name, band) of the bands this session has."""
    bands = audit.bands or {}
    return [(name, bands[name]) for name in BAND_NAMES if name in bands]


def _load_plot(audit: Audit, name: str) -> Plot | None:
    if audit.load is None or not np.isfinite(audit.traces.load).any():
        return None
    words = f"{CHANNEL_WORDS[audit.load.channel]} over time: {mean_text(audit)}. The table under it says the same."
    return plot(f"{name}-load", session_figure(audit), words, session_table(audit))


def _plot_note(audit: Audit) -> str:
    if audit.load is None:
        return ""
    parts = [] if audit.load.channel == "power" else [CHANNEL_WORDS[audit.load.channel]]
    if audit.zones is None:
        parts.append("no test to compare with")
    if any(item.code == "zone_3_drift" for item in audit.verdict.findings):
        parts.append("orange shade: the longest run above the ceiling")
    if is_cut(audit):
        text = loads_of(audit).text(load_span(audit)[1])
        parts.append(f"single sprints above {text} are cut off in the figure, not in the numbers")
    return sentence("; ".join(parts))


def _finding(audit: Audit, item: Finding) -> FindingView:
    sure = item.agreement is not None and not is_unsure_of(audit, item)
    agreement = f"Agreement {share_text(item.agreement)}." if sure else ""
    return FindingView(
        label=label_of(item.code),
        text=sentence(finding_sentence(audit, item)),
        agreement=agreement,
        rows=evidence_rows(audit, item.evidence),
        places=places(audit, item.evidence),
        settings=settings_text(audit, item.evidence),
    )


def _tables(audit: Audit) -> Iterable[Table]:
    if audit.repeats:
        yield repeats_table(audit)
    if audit.bands:
        yield bands_table(audit)
    if audit.surges and audit.surges.events:
        yield surges_table(audit)
    if audit.climbs:
        yield climbs_table(audit)


def repeats_table(audit: Audit) -> Table:
    """Every repeat of a hard session with the easing after it."""
    loads = loads_of(audit)
    told = audit.repeats.efforts if audit.repeats else ()
    rows = tuple(
        (
            clock_of(audit, item.start_s),
            minutes_text(item.length_s),
            loads.text(item.mean),
            number_text(item.mean_hr, "bpm"),
            DASH if item.recovery_s is None else minutes_text(item.recovery_s),
            loads.text(item.recovery_mean),
        )
        for item in told
    )
    head = ("began", "length", "mean load", "mean heart rate", "easing after it", "its mean load")
    return Table(f"Every effort ({len(rows)})", head, rows, note=repeats_text(audit))


def bands_table(audit: Audit) -> Table:
    """Time and share per band, with the range over the curves that fit the test."""
    loads = loads_of(audit)
    rows = [
        (
            name,
            zero_or_time(band.seconds),
            share_text(band.share),
            share_range_text(band.share_range),
            zero_or_time(band.seconds_1s),
            loads.text(band.mean_load),
            number_text(band.mean_hr, "bpm"),
        )
        for name, band in (audit.bands or {}).items()
        if name != "severe" or band.seconds or band.seconds_1s
    ]
    span = f"{share_text(audit.settings.steptest.range_share)} range"
    head = ("band", "time", "share", span, "by each second", "mean load", "mean heart rate")
    return Table("Bands", head, tuple(rows), note=_rest_note(audit))


def _rest_note(audit: Audit) -> str:
    seconds = audit.seconds
    parts = {
        "coasting (inside easy)": seconds.coasting,
        "unmeasured": seconds.unmeasured,
        "pause": seconds.pause,
        "gap": seconds.gap,
    }
    return sentence(", ".join(f"{name} {duration_text(value)}" for name, value in parts.items() if value))


def surges_table(audit: Audit) -> Table:
    """Every surge."""
    loads = loads_of(audit)
    events = audit.surges.events if audit.surges else ()
    rows = tuple(
        (
            clock_of(audit, event.start_s),
            clock_text(event.start_s),
            "micro-surge" if event.micro else "sustained effort",
            event.cause,
            {True: "forced", False: "avoidable", None: DASH}[event.forced],
            brief_text(event.seconds_above),
            loads.text(event.mean),
            loads.text(event.highest),
            number_text(event.work_above_j, "J"),
        )
        for event in events
    )
    head = ("time", "from start", "kind", "where", "forced?", "above ceiling", "mean", "highest", "work above")
    return Table(f"Every surge ({len(rows)})", head, rows, words=5, note=lengths_text(audit))


def lengths_text(audit: Audit) -> str:
    """How many surges of which length: "Up to 10 s: 12, up to 20 s: 9, longer: 1."."""
    lengths = audit.surges.lengths if audit.surges else ()
    told = [f"{'longer' if top is None else f'up to {top} s'}: {count}" for top, count in lengths if count]
    return sentence(f"seconds above the ceiling, {', '.join(told)}") if told else ""


def climbs_table(audit: Audit) -> Table:
    """The climbs of a session."""
    rows = tuple(
        (
            distance_text(climb.start_m),
            length_text(climb.length_m, 2),
            height_text(climb.height_m),
            number_text(climb.mean_grade * 100, "%", 1),
            number_text(climb.surges),
            brief_text(climb.seconds_above),
        )
        for climb in audit.climbs
    )
    return Table(
        f"Climbs ({len(rows)})", ("begins at", "length", "height", "mean grade", "surges", "above the ceiling"), rows
    )


def repairs_text(audit: Audit) -> tuple[str, ...]:
    """Each repair, note and damage of a recording in a few words."""
    quality = audit.quality
    return (*repair_words(quality), *quality_notes(audit), *([quality.damage] if quality.damage else []))
