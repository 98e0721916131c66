"""What lies beside a page when it is written: the shared copy of plotly, and the pages it may lead to."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from urllib.parse import quote

from steadyband.audit.model import Audit
from steadyband.report.common.assets import share_plotly

SESSIONS = "sessions"
"""Where in the reports folder the sessions' own pages lie."""


@dataclass(frozen=True, slots=True)
class Link:
    """A page that was there: its name and the way to it."""

    name: str
    href: str


@dataclass(frozen=True, slots=True)
class Served:
    """What a server puts around a page that it gives out: markup before the main part, and its own style and script."""

    before: str
    style: str
    script: str


@dataclass(frozen=True, slots=True)
class Beside:
    """What a page may count on beside it; everything empty for a page that stands alone.

    `plotly` is the way to the shared copy, `links` lead to other pages, `sessions` maps a session's page name to the way to it,
    `made_from` is what the page says it was made from. `served` is put around a page that is served, and empty in a file.
    """

    plotly: str = ""
    links: tuple[Link, ...] = ()
    sessions: Mapping[str, str] = field(default_factory=dict)
    made_from: str = ""
    served: Served | None = None

    def session(self, name: str) -> str:
        """The way to a session's own page; empty where it was not written."""
        return self.sessions.get(name, "")


ALONE = Beside()


def beside(reports: Path, page: Path, shared: bool = False) -> Beside:
    """What lies in the reports folder around `page`; with `shared` the copy of plotly is put there first."""
    return Beside(
        plotly=share_plotly(reports, page) if shared else "",
        links=tuple(_links(reports, page)),
        sessions={place.stem: _way(place, page) for place in (reports / SESSIONS).glob("*.html")},
    )


def beside_session(reports: Path, page: Path, day: date, shared: bool = False) -> Beside:
    """What lies beside a session's own page: the page of its week, where that was written."""
    year, week, _ = day.isocalendar()
    place = reports / f"week-{year}-W{week:02d}.html"
    links = (Link(_named(place), _way(place, page)),) if place.is_file() else ()
    return Beside(share_plotly(reports, page) if shared else "", links)


def session_names(audits: Sequence[Audit]) -> tuple[str, ...]:
    """The names of sessions' own pages, without suffix: local day and time, then the file's name.

    Sessions that would share a name carry the beginning of their recording's digest as well, so give all sessions of a day.
    """
    plain = [_plain_name(audit) for audit in audits]
    often = Counter(plain)
    return tuple(
        name if often[name] == 1 else f"{name}-{audit.info.sha256[:8]}-{audit.info.sport}"
        for name, audit in zip(plain, audits, strict=True)
    )


def _plain_name(audit: Audit) -> str:
    start = audit.info.local_start
    stem = Path(audit.info.file).name.split(".")[0].removeprefix(f"{start:%Y-%m-%d}-")
    return f"{start:%Y-%m-%d-%H%M}-{re.sub(r'[^A-Za-z0-9_-]+', '-', stem).strip('-') or 'session'}"[:120]


def _links(reports: Path, page: Path) -> Iterable[Link]:
    around = sorted(place for place in reports.glob("*.html") if place != page)
    weeks = [place for place in around if _named(place).startswith("Week")]
    blocks = [place for place in around if _named(place).startswith("Block")]
    others = [place for place in around if place.name in FIXED]
    for place in (*_neighbours(weeks, page), *blocks[-1:], *others):
        yield Link(_named(place), _way(place, page))


def _neighbours(weeks: Sequence[Path], page: Path) -> list[Path]:
    """The week before and the week after a week's page; for other pages the latest week."""
    if not _named(page).startswith("Week"):
        return list(weeks[-1:])
    before = [place for place in weeks if place.name < page.name]
    after = [place for place in weeks if place.name > page.name]
    return [*before[-1:], *after[:1]]


FIXED = {"history.html": "The season", "step-tests.html": "Step tests over time", "zone-card.html": "Zone card"}
WEEK = re.compile(r"week-(\d{4})-W(\d{2})")
BLOCK = re.compile(r"block-(\d{4}-\d{2}-\d{2})-to-(\d{4}-\d{2}-\d{2})")


def _named(place: Path) -> str:
    if week := WEEK.fullmatch(place.stem):
        return f"Week {int(week[2])} of {week[1]}"
    if block := BLOCK.fullmatch(place.stem):
        first, last = (date.fromisoformat(text) for text in block.groups())
        return f"Block from {first:%-d %B} to {last:%-d %B %Y}"
    return FIXED.get(place.name, "")


def _way(place: Path, page: Path) -> str:
    return quote(Path(os.path.relpath(place, page.parent)).as_posix())
