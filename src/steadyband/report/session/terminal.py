"""What `audit` prints of one session."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from steadyband.audit.model import HARD_INTENTS, Audit, Finding
from steadyband.ground.units import duration_text
from steadyband.report.common.evidence import places, slope_text
from steadyband.report.common.figure_base import longest_of
from steadyband.report.common.fitted import Fitted
from steadyband.report.common.terminal import heading, lead, paragraph, soft, titled
from steadyband.report.common.terminal_ribbon import RibbonKey, RibbonView, TimeAxis
from steadyband.report.common.view import Table as TableView
from steadyband.report.common.words import (
    agreement_key,
    agreement_text,
    capital,
    compared_text,
    counted,
    date_text,
    intent_text,
    label_of,
    loads_of,
    number_text,
    sentence,
    session_title,
    share_text,
    signed_text,
    verdict_label,
    window_word,
)
from steadyband.report.session.hills import hill_lines
from steadyband.report.session.view import bands_table, facts_text, repairs_text
from steadyband.told.findings import finding_sentence, is_unsure_of, mean_text
from steadyband.told.repeats import repeats_text


def audit_view(audit: Audit) -> RenderableType:
    """One session: what and when, ribbon, bands, surges, drift, findings, quality, and the test it is compared with."""
    return Group(
        heading(f"{session_title(audit)}: {verdict_label(audit)}"),
        soft(_facts(audit)),
        Text(),
        RibbonView(audit),
        TimeAxis(longest_of([audit])),
        RibbonKey((audit,)),
        *agreement_note((audit,)),
        *_audit_numbers(audit),
        *titled(f"Verdict: {verdict_label(audit)}", _verdict(audit)),
        *titled("Hills", [paragraph(line) for line in hill_lines(audit)]),
        *titled("Recording", [paragraph(line) for line in quality_lines(audit)]),
        paragraph(f"\n{compared_text(audit)}\n"),
    )


def agreement_note(audits: Sequence[Audit]) -> list[RenderableType]:
    """What agreement means, where an agreement is shown."""
    judged = next((audit for audit in audits if agreement_text(audit)), None)
    return [soft(agreement_key(judged.settings))] if judged else []


def _facts(audit: Audit) -> str:
    name = f"{audit.info.file}" + (f" ({audit.info.name})" if audit.info.name else "")
    return (
        f"{name}\n{date_text(audit.info.local_start.date())}, {facts_text(audit)} active, meant as {intent_text(audit)}"
    )


def _audit_numbers(audit: Audit) -> Iterable[RenderableType]:
    if audit.bands:
        table = bands_table(audit)
        yield Text()
        yield Fitted(TableView("", table.head, table.rows, note=""))
        if table.note:
            yield soft(table.note)
    yield from (paragraph(line) for line in number_lines(audit))


def number_lines(audit: Audit) -> Iterable[str]:
    """Mean load, surges and drift, a line each."""
    if audit.load is not None:
        yield f"\nLoad: {mean_text(audit)}; highest 31-s mean {loads_of(audit).text(audit.load.mean_31s_max)}."
    if audit.repeats is not None:
        yield f"Efforts: {repeats_text(audit)}"
    if audit.surges is not None and audit.info.intent not in HARD_INTENTS:
        yield _surges_line(audit)
    if audit.drift is not None:
        yield _drift_line(audit)


def _surges_line(audit: Audit) -> str:
    surges = audit.surges
    if surges is None or not surges.count:
        return "Surges: none above the ceiling."
    causes = ", ".join(f"{cause} {count}" for cause, count in surges.by_cause.items() if count)
    work = f", work above {number_text(surges.work_above_kj, 'kJ', 1)}" if surges.work_above_kj is not None else ""
    forced = f"; {surges.forced} forced by the hill" if surges.forced is not None else ""
    return (
        f"Surges: {surges.count:,} ({surges.per_hour:.0f} an active hour), {counted(surges.micro, 'micro-surge')} and "
        f"{counted(surges.sustained, 'sustained effort')}; {duration_text(surges.seconds_above)} above the ceiling, "
        f"{share_text(surges.share_above)}{work}. Where: {causes}{forced}."
    )


def _drift_line(audit: Audit) -> str:
    drift = audit.drift
    if drift is None:
        return ""
    longest = duration_text(drift.load_longest_s) if drift.load_longest_s else "never"
    parts = [f"{window_word(audit.settings.drift.window_s)} mean at or above the ceiling: {longest}"]
    if drift.top_of_band_s:
        parts.append(f"{duration_text(drift.top_of_band_s)} at the top of the band")
    if drift.load_slope_per_h is not None:
        parts.append(f"trend {slope_text(audit, drift.load_slope_per_h)} an hour")
    if drift.hr_drift_percent is not None:
        parts.append(f"heart rate against load {signed_text(drift.hr_drift_percent, '%', 1)}")
    if drift.hr_above_test_s:
        parts.append(f"heart rate above the test for {duration_text(drift.hr_above_test_s)}")
    return f"Drift: {'; '.join(parts)}."


def _verdict(audit: Audit) -> list[RenderableType]:
    found = [item for item in audit.verdict.findings if item.code != "in_band"]
    told: list[RenderableType] = [part for item in found for part in _finding(audit, item)]
    share = audit.verdict.agreement
    if audit.verdict.in_band and agreement_text(audit):
        told.append(paragraph(sentence(agreement_text(audit))))
    elif len(found) > 1 and share is not None:
        told.append(paragraph(f"That it left the band at all: agreement {share_text(share)}."))
    return told or [Text("Nothing more to say.")]


def _finding(audit: Audit, item: Finding) -> Iterable[RenderableType]:
    label = label_of(item.code)
    text = lead(f"{capital(label)}. ", sentence(finding_sentence(audit, item)))
    if item.agreement is not None and not is_unsure_of(audit, item):
        text.append(f" Agreement {share_text(item.agreement)}.")
    yield text
    for place in places(audit, item.evidence):
        yield Padding(paragraph(place), (0, 0, 0, 2), expand=False)


def quality_lines(audit: Audit) -> tuple[str, ...]:
    """What was read, dropped, held and repaired."""
    quality = audit.quality
    read = (
        f"{counted(quality.records, 'record')} read, {quality.dropped:,} dropped, {duration_text(quality.held_s)} held."
    )
    return (read, *(sentence(text) for text in repairs_text(audit)))
