"""A page made again for somebody else: from data without what its owner keeps, marked, and searched before it is written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.own_words import own_words
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.athlete.season import Entry, Season
from steadyband.audit.model import Audit
from steadyband.ground.errors import NothingToReviewError, SteadybandError, UsageError
from steadyband.report.common.shared_note import shared_as
from steadyband.report.common.words import counted
from steadyband.report.share.search import search
from steadyband.review.block import review_block
from steadyband.review.history import history
from steadyband.review.private import OWN_NOTE, Private, private_of
from steadyband.review.repeat_climbs import repeat_climbs
from steadyband.review.share import (
    WHAT,
    Redaction,
    redaction,
    shared_audit,
    shared_failures,
    shared_folder,
    shared_session,
    shared_test,
)
from steadyband.review.week import asked_or_judged, review_week

WEEK = re.compile(r"(\d{4})-W(\d{2})")
MADE_FOR = re.compile(r'<meta name="made-for" content="([^"<>]{1,80})">')
HEAD_BYTES = 1 << 16
"""Bytes of a page within which its head says what it was made for."""
PLURALS = {
    "athlete's name": "athlete's names",
    "file name": "file names",
    "name of a recording": "names of recordings",
    "name of a device": "names of devices",
    "name of a meter or analyser": "names of meters and analysers",
    "note": "notes of tests",
    OWN_NOTE: "notes of the athlete",
    "path of a folder": "paths of folders",
}
NOT_OURS = (
    "Name a page of a week, block, season, session or step test that steadyband wrote, or a week such as 2026-W20."
)


@dataclass(frozen=True, slots=True)
class Target:
    """What is to be shared: a kind (week, block, season, session, test) and which one, as the page's head says it."""

    kind: str
    which: tuple[str, ...] = ()

    @property
    def file_name(self) -> str:
        """The name of the copy: kind and date, never the name of a recording or a test."""
        safe = [re.sub(r"[^0-9A-Za-z-]+", "", part.replace("+00:00", "Z")) for part in self.which]
        return "-".join([self.kind, *safe]) + ".html"


@dataclass(frozen=True, slots=True)
class SharedCopy:
    """The finished page, and what to say of it."""

    page: str
    removed: tuple[str, ...]
    kept: tuple[str, ...]
    alike: tuple[str, ...]


def target_of(what: str) -> Target:
    """The target named by a week (2026-W20) or by the path of a page.

    Raises UsageError where it is neither, or a page that does not say what it was made for.
    """
    if WEEK.fullmatch(what):
        return Target("week", (what,))
    path = Path(what)
    if not path.is_file():
        raise UsageError(f"expected a page or a week such as 2026-W20, found no file at {what}.", hint=NOT_OURS)
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES).decode("utf-8", "replace")
    except OSError as fault:
        raise UsageError(f"{what} cannot be read ({fault.strerror}).", hint="Check its permissions.") from fault
    found = MADE_FOR.search(head)
    kind, *which = found[1].split(" ") if found else ("",)
    if kind not in SHOWN:
        raise UsageError(
            f"{what} does not say what it was made for (shared copies and old pages do not).", hint=NOT_OURS
        )
    return Target(kind, tuple(which))


def shared_copy(home: AthleteFolder, season: Season, target: Target, keep: Iterable[str] = ()) -> SharedCopy:
    """A copy of a page without what is not in `keep` (words of `WHAT`): made anew from the folder as it is now.

    Raises NothingToReviewError where the folder holds no such week, session or test, SteadybandError where the finished
    page still holds a value that was to be removed: then nothing may be written.
    """
    kept = tuple(word for word in WHAT if word in set(keep))
    shown = _shown(season, target)
    private = private_of(home, season, shown)
    cut = redaction(kept, home, [item.audit for item in season.sessions], private)
    removed = removed_lines(private, cut)
    by_pulse = sum(_judged_by_pulse(entry.condensed.audit) for entry in shown)
    with shared_as(_note(cut, by_pulse)):
        page = _page(home, season, target, cut)
    searched = search(page, private, [word for word in WHAT if word not in kept])
    if searched.found:
        raise SteadybandError(
            f"expected a page without what was to be removed, found {'; '.join(searched.found)}. Nothing was written.",
            hint="This is a fault of steadyband: please report it, without the page.",
        )
    return SharedCopy(page, removed, kept_lines(cut, by_pulse), searched.alike)


def removed_lines(private: Private, cut: Redaction) -> tuple[str, ...]:
    """What was removed, with counts."""
    lines = []
    if cut.positions:
        lines.append(
            "positions: none were recorded"
            if not private.tracks
            else f"{counted(private.positions, 'position')} of {counted(len(private.tracks), 'track')}, with heights, climbs and "
            "distances along the way"
        )
    if cut.names:
        named = [
            counted(len(names), kind, PLURALS[kind])
            for kind, names in private.names.items()
            if names and kind != OWN_NOTE
        ]
        lines.append(f"names: {', '.join(named) or 'none were there'}")
    if cut.notes:
        notes = counted(len(private.names[OWN_NOTE]), OWN_NOTE, PLURALS[OWN_NOTE])
        lines.append(f"{notes} in all, with effort, sleep and illness as told")
    if cut.heart_rate:
        beats = f"{counted(private.beats, 'heart rate')} of {counted(len(private.pulses), 'trace')}"
        lines.append(beats if private.pulses else "heart rates: none were recorded")
    lines.append(f"{counted(len(private.serials), 'device number')}, which no page ever shows")
    return tuple(lines)


def _judged_by_pulse(audit: Audit) -> bool:
    return audit.load is not None and audit.load.channel == "heart_rate"


def kept_lines(cut: Redaction, by_pulse: int = 0) -> tuple[str, ...]:
    """What is still in it; `by_pulse` of its sessions have no load but heart rate."""
    lines = [
        "dates and times of day",
        "loads second by second, bands, surges with their causes, drift in percent, heart rate against the test in beats",
    ]
    lines.append("the step test: loads, lactate, heart-rate limits, body mass")
    lines += [] if cut.positions else ["tracks (start and end as athlete.toml hides them), heights and climbs"]
    lines += [] if cut.names else ["the athlete's name, names of files, devices and recordings, notes of tests"]
    lines += (
        [] if cut.notes else ["the athlete's own notes, effort, sleep and illness, as typed but for names and places"]
    )
    if cut.heart_rate and by_pulse:
        lines.append(
            f"mean heart rate, and drift in beats, of {counted(by_pulse, 'session')} judged by heart rate alone"
        )
    lines += [] if cut.heart_rate else ["heart-rate traces"]
    return tuple(lines)


def _note(cut: Redaction, by_pulse: int) -> str:
    gone = [
        *(["positions, heights and climbs"] if cut.positions else []),
        *(["names and notes of tests"] if cut.names else []),
        *(["the athlete’s own notes, effort, sleep and illness"] if cut.notes else []),
        *([f"heart-rate traces{'' if by_pulse else ' and means'}"] if cut.heart_rate else []),
        "device numbers",
    ]
    keeps = "keeps its mean" if by_pulse == 1 else "keep their means"
    means = f"{counted(by_pulse, 'session')} judged by heart rate alone {keeps} in beats. "
    return (
        f"Left out: {'; '.join(gone)}. {means if by_pulse and cut.heart_rate else ''}"
        "Dates, loads and the step test with its heart rates are as in the athlete's own page."
    )


def _shown(season: Season, target: Target) -> list[Entry]:
    """The sessions that the page is about."""
    span = SHOWN[target.kind](target)
    if span is None:
        return [entry for entry in season.entries if _is_session(entry.condensed.audit, target)]
    first, last = span
    return [entry for entry in season.entries if first <= entry.condensed.day <= last]


def _is_session(audit: Audit, target: Target) -> bool:
    return target.kind == "session" and target.which == (audit.info.start.isoformat(), audit.info.sport)


Span = tuple[date, date]


def _week_days(target: Target) -> Span:
    year, week = (int(part) for part in _matched(WEEK, target)[0].split("-W"))
    try:
        first = date.fromisocalendar(year, week, 1)
    except ValueError as fault:
        raise UsageError(f"{year} has no week {week}.", hint="Weeks run from 1 to 52 or 53.") from fault
    return first, first + timedelta(days=6)


def _matched(pattern: re.Pattern[str], target: Target) -> tuple[str, ...]:
    if len(target.which) != 1 or not pattern.fullmatch(target.which[0]):
        raise UsageError(f"expected a {target.kind}, found {' '.join(target.which)!r}.", hint=NOT_OURS)
    return target.which


def _block_days(target: Target) -> Span:
    try:
        first, last = (date.fromisoformat(part) for part in target.which)
    except ValueError as fault:
        raise UsageError(f"expected two dates, found {' '.join(target.which)!r}.", hint=NOT_OURS) from fault
    return first, last


SHOWN: dict[str, Callable[[Target], Span | None]] = {
    "week": _week_days,
    "block": _block_days,
    "season": lambda target: (date.min, date.max),
    "session": lambda target: None,
    "test": lambda target: None,
}
"""The days of a kind of page; None where it is about one session or test."""


@as_the_athlete_reads
def _page(home: AthleteFolder, season: Season, target: Target, cut: Redaction) -> str:
    folder, sessions = shared_folder(home, cut), [shared_session(item, cut) for item in season.sessions]
    failures = shared_failures(season.failures, cut)
    if target.kind == "test":
        return _test_page(home, target, cut)
    if target.kind == "session":
        return _session_page(folder, season, target, cut)
    if target.kind == "season":
        from steadyband.report.season.page import history_page

        return history_page(history(folder, sessions, failures))
    first, last = SHOWN[target.kind](target) or (date.min, date.max)
    if target.kind == "block":
        from steadyband.report.block.page import block_page

        return block_page(review_block(folder, sessions, failures, ((last - first).days + 1) // 7, last))
    from steadyband.report.week.page import week_page

    audits = [shared_audit(asked_or_judged(audit), cut) for audit in season.audits(first, last)]
    review = review_week(folder, audits, failures, first, sessions)
    said = tuple(cut.text(text) for text in season.remarks_for(first, last))
    return week_page(replace(review, left_out=(*review.left_out, *said)))


def _session_page(folder: AthleteFolder, season: Season, target: Target, cut: Redaction) -> str:
    from steadyband.report.session.page import session_page

    entry = next((item for item in season.entries if _is_session(item.condensed.audit, target)), None)
    if entry is None:
        raise NothingToReviewError(
            f"the folder holds no session of {_when(target)} any more.", hint="Name a page of a session that is there."
        )
    day = entry.condensed.day
    audits = [audit for audit in season.audits(day, day) if _is_session(audit, target)]
    repeats = () if cut.positions else repeat_climbs([shared_audit(item.audit, cut) for item in season.sessions])
    words = own_words(folder.labels, audits[0].info.local_start, audits[0].info.sport)
    return session_page(shared_audit(audits[0], cut), repeats, words=words)


def _when(target: Target) -> str:
    return " ".join(target.which) or "that time"


def _test_page(home: AthleteFolder, target: Target, cut: Redaction) -> str:
    from steadyband.report.test.pages import step_test_page

    which = target.which
    found = [item for item in home.zone_sets if which == (item.test.date.isoformat(), item.test.sport)]
    if len(found) != 1:
        raise NothingToReviewError(
            f"expected one step test of {_when(target)}, found {len(found)}.",
            hint="Name a page of a test that is there.",
        )
    return step_test_page(shared_test(found[0], cut))
