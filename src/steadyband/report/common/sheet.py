"""The first sheet of a week or block: what to change, the numbers to train by, and how far both can be trusted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from steadyband.audit.model import Audit
from steadyband.ground.units import age_text
from steadyband.report.common.words import DASH, Loads, capital, counted, date_text, sentence, share_text, sport_word
from steadyband.review.model import Advice, Review, TestInForce
from steadyband.steptest.model import Edges
from steadyband.told.causes import listed
from steadyband.told.loads import unit_shown

FITS: Mapping[str, str] = {
    "fits": "still fits",
    "fitter than the test": "no longer fits: you are fitter",
    "tired, hot or ill": "fits badly: tired, hot, ill, or an old test",
    "cannot tell": "cannot tell yet if it still fits",
}
MOST_CHANGES = 3
"""Most things to change on one sheet: more are not changed in a week."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing to change: a short imperative, where it was found, and the id of the session that says more."""

    head: str
    text: str
    id: str = ""


Cell = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Numbers:
    """Next week's numbers of one sport: each a word and a number in `unit` ("below", "139"); `test` says which test they
    come from and how old it is."""

    sport: str
    unit: str
    easy: Cell
    average: Cell
    below: Cell
    test: str
    old: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """What stands on the first sheet beside the answer and the ribbons."""

    sure: str
    changes: tuple[Change, ...]
    numbers: tuple[Numbers, ...]
    since: tuple[str, ...]
    counted: str


def sheet(review: Review) -> Sheet:
    """The sheet of a week or a block."""
    ids = {audit.info.start: f"session-{number}" for number, audit in enumerate(review.audits, 1)}
    return Sheet(
        sure=sure_text(review.audits),
        changes=tuple(_change(item, ids) for item in review.changes[:MOST_CHANGES]),
        numbers=tuple(numbers_of(item, review) for item in review.tests),
        since=review.since_last_week,
        counted=counted_text(review),
    )


def _change(item: Advice, ids: Mapping[datetime, str]) -> Change:
    return Change(item.head, item.text, next((ids[start] for start in item.starts if start in ids), ""))


def sure_text(audits: Sequence[Audit]) -> str:
    """The lowest and highest agreement of the week's verdicts, to follow that word; empty where nothing was judged."""
    shares = [share for audit in audits for share in _agreements(audit)]
    if not shares:
        return ""
    low, high = share_text(min(shares)), share_text(max(shares))
    span = low if low == high else f"{low.removesuffix(' %')} to {high}"
    return f"of these verdicts: {span}"


def _agreements(audit: Audit) -> Iterable[float]:
    verdict = audit.verdict
    if verdict.in_band:
        return [verdict.agreement] if verdict.agreement is not None else []
    if verdict.in_band is None:
        return []
    return [item.agreement for item in verdict.findings if item.agreement is not None]


def numbers_of(item: TestInForce, review: Review) -> Numbers:
    """Easy below, average up to, stay below: what one sport's test asks of next week."""
    name = capital(sport_word(item.sport))
    if item.zone_set is None or item.age_days is None:
        none = ("", DASH)
        return Numbers(name, "", none, none, none, sentence(item.reason or "no usable test"), True)
    edges, loads = item.zone_set.edges, sheet_loads(item)
    below, most = ("below", "up to") if not loads.shown.startswith("min/") else ("slower than", "at fastest")
    open_top = edges.ceiling is None
    return Numbers(
        sport=name,
        unit=str(loads.shown),
        easy=_easy(edges, loads, below),
        average=_cell(loads, most, edges.target_top),
        below=_cell(loads, "open above" if open_top else below, edges.ceiling_at_least if open_top else edges.ceiling),
        test=test_text(item, review),
        old=item.freshness != "current",
    )


def sheet_loads(item: TestInForce) -> Loads:
    """How next week's loads are written: a pace for runs, whatever unit the test was typed in."""
    return Loads(unit_shown(item.sport, item.zone_set.test.load_unit)) if item.zone_set else Loads("W")


def _cell(loads: Loads, word: str, value: float | None) -> Cell:
    return (word, loads.bare(value)) if value is not None else ("", DASH)


def _easy(edges: Edges, loads: Loads, below: str) -> Cell:
    if edges.easy_empty:
        return "", "none"
    return _cell(loads, below, edges.floor) if edges.floor is not None else ("", "all tested")


def test_text(item: TestInForce, review: Review) -> str:
    """Which test the numbers come from: its date with the year, its age, whether it still fits, and another one that judged
    sessions of the week."""
    zone_set = item.zone_set
    if zone_set is None or item.age_days is None:
        return ""
    fit = FITS.get(review.fit_by_sport.get(item.sport, ""), "")
    stale = {"ageing": "test again soon", "stale": "too old: test again"}.get(item.freshness or "", "")
    told = [f"test of {date_text(zone_set.test.date)}", age_text(item.age_days), *filter(None, (stale or fit,))]
    others = sorted(
        {
            audit.zones.test_date
            for audit in _audits(review)
            if audit.zones and audit.info.sport == item.sport and audit.zones.test_date != zone_set.test.date
        }
    )
    earlier = [
        f"{counted(_judged_by(review, item.sport, day), 'session')} by the test of {date_text(day)}" for day in others
    ]
    also = f"; of these sessions {' and '.join(earlier)}" if earlier else ""
    return f"{', '.join(told)}{also}"


test_text.__test__ = False  # type: ignore[attr-defined]


def _audits(review: Review) -> list[Audit]:
    return [item.audit for item in review.sessions]


def _judged_by(review: Review, sport: str, day: object) -> int:
    return sum(
        bool(audit.zones and audit.info.sport == sport and audit.zones.test_date == day) for audit in _audits(review)
    )


def counted_text(review: Review) -> str:
    """How many files of the folder are not in this, how many of its recordings are cut short, and how many have a clock that cannot
    be right; empty where all is whole."""
    unread = len(review.unreadable)
    cut = sum(item.audit.quality.damage is not None for item in review.sessions)
    told = [f"{counted(unread, 'file')} could not be read"] if unread else []
    told += [f"{counted(cut, 'recording')} {'is' if cut == 1 else 'are'} damaged or cut short"] if cut else []
    if review.set_aside:
        told.append(
            f"{counted(review.set_aside, 'recording')} with a clock that cannot be right {'is' if review.set_aside == 1 else 'are'} set aside"
        )
    return sentence(listed(told))
