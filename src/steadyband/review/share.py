"""Audits and athlete folders without what their owner keeps private; pages are then made from these, as any page is.

Removing happens here, in the data, so that no figure, hover text or table can still hold what was removed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from steadyband.athlete.condensed import Condensed
from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import Failure
from steadyband.audit.model import Audit, Finding, Surge, ZonesUsed
from steadyband.ground.said import Said
from steadyband.review.fit_of_test import place_of
from steadyband.review.private import OWN_NOTE, Private
from steadyband.steptest.model import StepTest, ZoneSet

WHAT = ("positions", "names", "notes", "heart-rate")
"""What a shared copy leaves out unless it is told to keep it."""
PLACES = frozenset({"lat", "lon", "at_m"})
PULSES = frozenset({"hr_first_half_bpm", "hr_second_half_bpm"})
NO_REASON = "a reason that is left out of this copy"
GONE = "(left out)"
COORDINATE = re.compile(r"-?\d{1,3}[.,]\d{3,}")
SHORTEST_HIDDEN = 3
EMPTY = np.empty(0)


@dataclass(frozen=True, slots=True)
class Redaction:
    """What is removed, and what stands in the place of each name: file and device names stay tellable apart."""

    positions: bool
    names: bool
    notes: bool
    heart_rate: bool
    aliases: Mapping[str, str]
    hidden: frozenset[str] = frozenset()
    """Names and numbers without an alias that a note which is kept may hold."""

    def text(self, told: str) -> str:
        """A sentence with every known name replaced."""
        if not self.names:
            return told
        for name in sorted(self.aliases, key=len, reverse=True):
            whole_word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.I)
            told = whole_word.sub(self.aliases[name].replace("\\", r"\\"), told)
        return told

    def note(self, typed: str) -> str:
        """A note of the athlete's as it may be told: empty, or without the names and places that are removed."""
        if self.notes:
            return ""
        placed = COORDINATE.sub(GONE, typed) if self.positions else typed
        if not self.names:
            return placed
        known = replace(self, aliases=dict.fromkeys(self.hidden, GONE) | dict(self.aliases))
        return known.text(placed)

    def name(self, known: str) -> str:
        """What stands for a name; the name itself where names are kept."""
        return self.aliases.get(known, "") if self.names and known else known


def redaction(keep: Iterable[str], home: AthleteFolder, audits: Iterable[Audit], private: Private) -> Redaction:
    """What to remove: everything in `WHAT` but `keep`. `audits` are all of the season, in time order."""
    kept = set(keep)
    return Redaction(
        positions="positions" not in kept,
        names="names" not in kept,
        notes="notes" not in kept,
        heart_rate="heart-rate" not in kept,
        aliases=_aliases(home, audits, private),
        hidden=_hidden(private),
    )


def _hidden(private: Private) -> frozenset[str]:
    """Every private name, file names without their ending, the words of the athlete's own name, numbers of devices."""
    names = {text for kind, texts in private.names.items() if kind != OWN_NOTE for text in texts}
    names |= {Path(text).name.split(".")[0] for text in private.names["file name"]}
    names |= {word for text in private.names["athlete's name"] for word in text.split() if len(word) > SHORTEST_HIDDEN}
    numbers = {text for text in private.serials if len(text) >= SHORTEST_HIDDEN}
    return frozenset(text for text in names if len(text) > 1) | numbers


def _aliases(home: AthleteFolder, audits: Iterable[Audit], private: Private) -> dict[str, str]:
    found = dict.fromkeys(private.names["file name"], "another file")
    found |= _devices(private)
    found |= _numbered("meter", _each(zones.test.meter for zones in home.zone_sets))
    found |= _numbered("analyser", _each(zones.test.analyser for zones in home.zone_sets))
    found |= dict.fromkeys(private.names["note"], "left out")
    found |= {zones.test.override: NO_REASON for zones in home.zone_sets if zones.test.override}
    found |= {path: "a recording" for zones in home.zone_sets if (path := zones.test.recording)}
    found |= {str(home.athlete.tests / path): "a recording" for path in found if found[path] == "a recording"}
    found |= dict.fromkeys((path for path in private.names["path of a folder"] if len(path) > 1), "the athlete folder")
    found |= _numbered("recording", _each(audit.info.file for audit in audits))
    return found | _numbered("test", _each(zones.test.file for zones in home.zone_sets))


def _devices(private: Private) -> dict[str, str]:
    """All names of one device under one number, in the order in which they were first used."""
    found: dict[str, str] = {}
    for names in private.devices:
        new = [name for name in names if name not in found]
        found |= dict.fromkeys(new, f"device {len(set(found.values())) + 1}")
    return found


def _each(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(name for name in names if name.strip()))


def _numbered(word: str, names: Iterable[str]) -> dict[str, str]:
    return {name: f"{word} {number}" for number, name in enumerate(names, 1)}


def shared_folder(home: AthleteFolder, cut: Redaction) -> AthleteFolder:
    """The folder without names, and without the athlete's own words or with what may be told of them."""
    told = home.labels if not cut.notes else tuple(label.judging_part for label in home.labels)
    labels = tuple(replace(label, note=cut.note(label.note), illness=cut.note(label.illness)) for label in told)
    notes = tuple(replace(item, note=cut.note(item.note)) for item in home.week_notes)
    quiet = replace(home, labels=labels, week_notes=notes, label_faults=())
    if not cut.names:
        return quiet
    athlete = replace(home.athlete, name="", reports=Path("reports"), meter_offsets=(), intent_rules=())
    return replace(quiet, athlete=athlete, zone_sets=tuple(shared_test(item, cut) for item in home.zone_sets))


def shared_test(item: ZoneSet, cut: Redaction) -> ZoneSet:
    """A zone set whose test names nothing and carries no free text."""
    if not cut.names:
        return item
    checks = tuple(replace(check, text=cut.text(check.text)) for check in item.checks)
    return replace(item, test=_test(item.test, cut), checks=checks)


def _test(test: StepTest, cut: Redaction) -> StepTest:
    return replace(
        test,
        file=cut.name(test.file),
        meter=cut.name(test.meter),
        analyser=cut.name(test.analyser),
        position="",
        note="",
        recording=None,
        override=NO_REASON if test.override else test.override,
        steps=tuple(replace(step, note="") for step in test.steps),
    )


def shared_failures(failures: Iterable[Failure], cut: Redaction) -> tuple[Failure, ...]:
    """Files that could not be read, without their names and without what stood in them."""
    if not cut.names:
        return tuple(failures)
    return tuple(Failure(f"file {number}", "could not be read.") for number, _ in enumerate(failures, 1))


def shared_session(item: Condensed, cut: Redaction) -> Condensed:
    """A condensed session without what is removed."""
    return replace(item, audit=shared_audit(item.audit, cut), path=None)


def shared_audit(audit: Audit, cut: Redaction) -> Audit:
    """An audit without what is removed; verdict, bands, surges and drift stay."""
    named = _without_names(audit, cut) if cut.names else audit
    placed = _without_positions(named) if cut.positions else named
    return _without_pulse(placed) if cut.heart_rate else placed


def _without_names(audit: Audit, cut: Redaction) -> Audit:
    info = replace(
        audit.info,
        file=cut.name(audit.info.file),
        sha256="",
        name="indoor" if place_of(audit) == "indoors" else None,
        damage=cut.text(audit.info.damage) if audit.info.damage else None,
    )
    quality = audit.quality
    told = replace(
        quality,
        notes=tuple(_said(note, cut) for note in quality.notes),
        damage=cut.text(quality.damage) if quality.damage else None,
    )
    return _with_texts(replace(audit, info=info, zones=_zones(audit.zones, cut), quality=told), cut)


def _zones(zones: ZonesUsed | None, cut: Redaction) -> ZonesUsed | None:
    if zones is None:
        return None
    return replace(zones, test=cut.name(zones.test), override=NO_REASON if zones.override else zones.override)


def _with_texts(audit: Audit, cut: Redaction) -> Audit:
    findings = tuple(replace(item, evidence=_told(item.evidence, cut)) for item in audit.verdict.findings)
    reasons = tuple(_said(reason, cut) for reason in audit.verdict.reasons)
    return replace(audit, verdict=replace(audit.verdict, findings=findings, reasons=reasons))


def _said(note: Said, cut: Redaction) -> Said:
    return replace(note, numbers=_told(note.numbers, cut))


def _told(value: Any, cut: Redaction) -> Any:
    if isinstance(value, str):
        return cut.text(value)
    if isinstance(value, Mapping):
        return {key: _told(part, cut) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return type(value)(_told(part, cut) for part in value)
    return value


def _without_positions(audit: Audit) -> Audit:
    """No coordinates, heights, climbs or distances along the way: together those draw the track as well as a map does."""
    surges = audit.surges and replace(audit.surges, events=tuple(_nowhere(event) for event in audit.surges.events))
    return replace(
        audit,
        info=replace(audit.info, positions=False),
        traces=replace(audit.traces, lat_deg=EMPTY, lon_deg=EMPTY, distance_m=EMPTY, height_m=EMPTY, grade=EMPTY),
        surges=surges,
        climbs=(),
        verdict=replace(audit.verdict, findings=_dropped(audit.verdict.findings, PLACES)),
    )


def _nowhere(event: Surge) -> Surge:
    return replace(event, lat=None, lon=None, at_m=None)


def _without_pulse(audit: Audit) -> Audit:
    bands = audit.bands and {name: replace(band, mean_hr=None) for name, band in audit.bands.items()}
    cut = replace(
        audit,
        bands=bands,
        traces=replace(audit.traces, heart_rate_bpm=_unknown(audit.traces.heart_rate_bpm)),
        verdict=replace(audit.verdict, findings=_dropped(audit.verdict.findings, PULSES)),
    )
    return _without_pulse_load(cut) if audit.load is not None and audit.load.channel == "heart_rate" else cut


def _without_pulse_load(audit: Audit) -> Audit:
    """Where heart rate itself is the load, its trace and its means by band go; the mean of the session stays."""
    bands = audit.bands and {name: replace(band, mean_load=None) for name, band in audit.bands.items()}
    traces = audit.traces
    blank = replace(traces, load=_unknown(traces.load), band_load=_unknown(traces.band_load))
    return replace(audit, bands=bands, traces=blank)


def _unknown(values: Any) -> Any:
    return np.full(len(values), np.nan)


def _dropped(findings: Iterable[Finding], keys: frozenset[str]) -> tuple[Finding, ...]:
    return tuple(replace(item, evidence=_without(item.evidence, keys)) for item in findings)


def _without(value: Any, keys: frozenset[str]) -> Any:
    if isinstance(value, Mapping):
        return {key: _without(part, keys) for key, part in value.items() if key not in keys}
    if isinstance(value, (list, tuple)):
        return type(value)(_without(part, keys) for part in value)
    return value
