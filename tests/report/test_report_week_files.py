"""A week's files: its page, its sessions' own pages, links that lead to a file, and nothing written twice."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from urllib.parse import unquote

import pytest

from conftest import ROOT

sys.path.insert(0, str(ROOT / "tests" / "review"))

from many_sessions import folder
from report_builders import drifting_ride, steady_ride, surging_ride, week

from steadyband.athlete.condensed import condense
from steadyband.audit.model import Audit
from steadyband.report.common.beside import beside, session_names
from steadyband.report.season.page import history_page
from steadyband.report.week.files import write_sessions, write_week
from steadyband.report.week.page import week_page
from steadyband.review.history import history
from steadyband.review.model import Review

LINK = re.compile(r'<a [^>]*href="([^"#]+)"')


def review_in(folder: Path) -> Review:
    review = week()
    return replace(review, athlete=replace(review.athlete, reports=folder))


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reports")
    write_week(review_in(folder), ())
    return folder


def links_of(page: Path) -> list[str]:
    return links_in(page.read_text(encoding="utf-8"))


def links_in(text: str) -> list[str]:
    return [unquote(link) for link in LINK.findall(text[: text.index("<script")])]


def test_every_session_has_a_page_and_every_link_leads_to_a_file(reports: Path) -> None:
    pages = sorted(reports.rglob("*.html"))
    assert len(pages) == 1 + len(week().audits)
    for page in pages:
        assert [link for link in links_of(page) if not (page.parent / link).is_file()] == []
    of_week = next(reports.glob("week-*.html"))
    own = [link for link in links_of(of_week) if link.startswith("sessions/")]
    assert sorted(set(own)) == sorted(f"sessions/{page.name}" for page in (reports / "sessions").glob("*.html"))
    assert len(own) == 2 * len(week().audits)  # beside each ribbon, and in each section
    assert all(f"../{of_week.name}" in links_of(page) for page in (reports / "sessions").glob("*.html"))


def test_a_page_that_would_be_the_same_is_not_written_again(tmp_path: Path) -> None:
    review = review_in(tmp_path)
    page = write_week(review, ())
    assert write_sessions(review, (), page) == ()


def test_a_changed_session_alone_is_written_again(tmp_path: Path) -> None:
    review = review_in(tmp_path)
    page = write_week(review, ())
    first, *others = review.audits
    changed = replace(first, verdict=replace(first.verdict, agreement=0.5))
    written = write_sessions(replace(review, audits=(changed, *others)), (), page)
    assert [place.stem for place in written] == [session_names(review.audits)[0]]


def test_a_page_that_is_gone_is_written_again(tmp_path: Path) -> None:
    review = review_in(tmp_path)
    page = write_week(review, ())
    gone = next((tmp_path / "sessions").glob("*.html"))
    gone.unlink()
    assert write_sessions(review, (), page) == (gone,)


@pytest.mark.parametrize("harm", ["cut to a third", "a byte short", "a byte changed", "a line more", "empty"])
def test_a_page_that_is_not_whole_is_written_again(tmp_path: Path, harm: str) -> None:
    review = review_in(tmp_path)
    page = write_week(review, ())
    harmed = next((tmp_path / "sessions").glob("*.html"))
    whole = harmed.read_bytes()
    middle = len(whole) // 2
    made = {
        "cut to a third": whole[: len(whole) // 3],
        "a byte short": whole[:-1],
        "a byte changed": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
        "a line more": whole + b"<p>more</p>",
        "empty": b"",
    }
    harmed.write_bytes(made[harm])
    assert write_sessions(review, (), page) == (harmed,)
    assert harmed.read_bytes() == whole


def test_a_page_alone_names_no_other_file(tmp_path: Path) -> None:
    assert links_in(week_page(review_in(tmp_path))) == []


def named(audit: Audit, file: str, hours: int = 0, sha256: str = "0" * 64) -> Audit:
    info = audit.info
    return replace(
        audit, info=replace(info, file=file, sha256=sha256, local_start=info.local_start + timedelta(hours=hours))
    )


def test_names_are_plain_and_never_shared() -> None:
    ride = steady_ride()
    day = f"{ride.info.local_start:%Y-%m-%d-%H%M}"
    several = [
        named(ride, "../../etc/ride one.fit", sha256="a" * 64),
        named(ride, "ride one.gpx", sha256="b" * 64),
        named(surging_ride(), "Ümläut & <b>.fit.gz"),
        named(drifting_ride(), ""),
    ]
    names = session_names(several)
    assert len(set(names)) == 4
    assert names[0] == f"{day}-ride-one-aaaaaaaa-cycling"
    assert names[1] == f"{day}-ride-one-bbbbbbbb-cycling"
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+", name) for name in names)
    assert names[3].endswith("-session")


def test_pages_of_one_folder_lead_to_each_other_where_they_are(tmp_path: Path) -> None:
    for name in ("week-2026-W18.html", "week-2026-W19.html", "week-2026-W21.html", "history.html", "notes.html"):
        (tmp_path / name).touch()
    (tmp_path / "block-2026-04-20-to-2026-05-17.html").touch()
    around = beside(tmp_path, tmp_path / "week-2026-W20.html")
    assert [(link.name, link.href) for link in around.links] == [
        ("Week 19 of 2026", "week-2026-W19.html"),
        ("Week 21 of 2026", "week-2026-W21.html"),
        ("Block from 20 April to 17 May 2026", "block-2026-04-20-to-2026-05-17.html"),
        ("The season", "history.html"),
    ]
    assert beside(tmp_path / "nowhere", tmp_path / "nowhere" / "week-2026-W20.html").links == ()


def test_a_season_leads_to_the_sessions_that_have_a_page(reports: Path, tmp_path: Path) -> None:
    season = history(folder(tmp_path), [condense(audit) for audit in week().audits])
    page = history_page(season, beside(reports, reports / "history.html"))
    own = {link for link in links_in(page) if "sessions/" in link}
    assert len(own) == len(week().audits)
    assert all((reports / link).is_file() for link in own)
