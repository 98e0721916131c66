"""The files of a week: its page, and beside it the own page of each of its sessions."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from steadyband.athlete.own_words import OwnWords
from steadyband.athlete.reading import as_the_athlete_reads
from steadyband.athlete.store import keys
from steadyband.audit.model import Audit
from steadyband.ground.writing import write_text_atomically
from steadyband.report.common.assets import share_plotly
from steadyband.report.common.beside import SESSIONS, Beside, Link, beside, session_names
from steadyband.review.model import Review
from steadyband.review.repeat_climbs import RepeatClimb

HEAD_BYTES = 4096
"""Bytes from the start of a page within which it says what it was made from."""

Climbs = Callable[[], Sequence[RepeatClimb]]


def week_place(review: Review) -> Path:
    """Where a week's page belongs."""
    return review.athlete.reports / f"week-{review.name}.html"


def write_week(review: Review, again: Sequence[RepeatClimb], shared: bool = False) -> Path:
    """Write the page of a week and its sessions' own pages, and return the week's place.

    `again` are the climbs ridden or run again in the whole folder. The sessions' pages always use the shared copy of plotly,
    the week's page only with `shared`; a page that would come out the same is left as it is. Raises SteadybandError where
    the folder cannot be written to.
    """
    page = week_place(review)
    write_sessions(review, again, page)
    around = beside(review.athlete.reports, page, shared)
    made_from = _made_from(review, around)
    if not _stands(page, made_from):
        _write_week(page, review, replace(around, made_from=made_from))
    return page


@as_the_athlete_reads
def write_sessions(review: Review, again: Sequence[RepeatClimb], week: Path) -> tuple[Path, ...]:
    """Write the own pages of a week's sessions where they are not there as they would be; return those written.

    `week` is the week's page, to which each leads back.
    """
    folder = review.athlete.reports / SESSIONS
    year, number, _ = review.first_day.isocalendar()
    link = Link(f"Week {number} of {year}", f"../{week.name}")
    plotly = share_plotly(review.athlete.reports, folder / "one.html")
    written = []
    for name, audit, words in zip(session_names(review.audits), review.audits, review.words_told, strict=True):
        page = folder / f"{name}.html"
        here = [climb for climb in again if any(effort.file == audit.info.file for effort in climb.efforts)]
        made_from = _made_from(audit, here, words, review.athlete.reader, link, plotly)
        if not _stands(page, made_from):
            _write_session(page, audit, here, Beside(plotly, (link,), {}, made_from), words)
            written.append(page)
    return tuple(written)


def _write_week(page: Path, review: Review, around: Beside) -> None:
    from steadyband.report.week.page import week_page

    _write(page, week_page(review, around))


def _write_session(page: Path, audit: Audit, again: Sequence[RepeatClimb], around: Beside, words: OwnWords) -> None:
    from steadyband.report.session.page import session_page

    _write(page, session_page(audit, again, around, words))


def _write(page: Path, text: str) -> None:
    write_text_atomically(page, text + _seal(text.encode()))


def _seal(page: bytes) -> str:
    """The last line of a page: a digest of all that stands before it."""
    return f"<!-- whole {hashlib.blake2b(page, digest_size=16).hexdigest()} -->\n"


def _stands(page: Path, made_from: str) -> bool:
    """True where the page is there, made from the same, and whole to the last byte."""
    try:
        data = page.read_bytes()
    except OSError:
        return False
    body = data[: -len(_seal(b""))]
    return f'content="{made_from}"'.encode() in body[:HEAD_BYTES] and data == body + _seal(body).encode()


def _made_from(*parts: object) -> str:
    """A digest of everything a page shows, and of the code that works it out and shows it."""
    made = hashlib.blake2b(digest_size=16)
    for part in parts:
        made.update(pickle.dumps(part, protocol=5))
    made.update(f"{keys.code_digest()} {code_digest()}".encode())
    return made.hexdigest()


@cache
def code_digest() -> str:
    """Digest of the modules, templates and scripts that have a hand in a page, and of the words it says."""
    report = Path(__file__).resolve().parents[1]
    rooms = (report, report.parent / "told")
    files = sorted(place for room in rooms for place in room.rglob("*") if place.suffix in SUFFIXES and place.is_file())
    made = hashlib.blake2b(digest_size=16)
    for place in files:
        made.update(place.name.encode() + place.read_bytes())
    return made.hexdigest()


SUFFIXES = frozenset({".py", ".j2", ".css", ".js", ".gz"})
