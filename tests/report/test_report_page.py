"""The week page as HTML: structure, escaping, policy, size. Text is looked for, ids are scrubbed."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from report_builders import hard_session, run_without_easy, steady_ride, surging_ride, week

from steadyband.athlete.own_words import OwnWords
from steadyband.report.week.page import week_page
from steadyband.review.model import Review

EVIL = '<script>alert("x")</script><img src=//example.invalid onerror=alert(1)>'
VOID = {"meta", "br", "img", "link", "input", "hr"}
MEGABYTE = 1_000_000


class Outline(HTMLParser):
    """Tags with their attributes, headings and visible text; checks that every tag is closed in order."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            attrs, before = self.scripts[-1]
            self.scripts[-1] = (attrs, before + data)
        elif self.open and self.open[-1] != "style":
            self.text.append(data)

    def words(self) -> str:
        return " ".join(" ".join(self.text).split())


def outline(page: str) -> Outline:
    found = Outline()
    found.feed(page)
    found.close()
    assert found.open == []
    return found


def runnable(seen: Outline) -> list[str]:
    """The scripts that a browser runs while it reads the page."""
    return [text for attrs, text in seen.scripts if attrs.get("type") not in ("application/json", "text/plain")]


@pytest.fixture(scope="module")
def page() -> str:
    return week_page(week(hard_session()))


@pytest.fixture(scope="module")
def seen(page: str) -> Outline:
    return outline(page)


def test_sections_in_the_order_a_reader_needs_them(page: str) -> None:
    headings = re.findall(r"<h([12])[^>]*>(.*?)</h\1>", page)
    assert [text for _, text in headings] == [
        "Two of four endurance sessions held the band. Saturday&#39;s ride drifted above the ceiling for 58 min; "
        "Thursday&#39;s ride surged above the ceiling 38 times.",
        "What to change",
        "Next week’s numbers",
        "Take care",
        "Behind this sheet",
    ]


def test_what_stands_behind_the_sheet_is_folded(page: str) -> None:
    summaries = re.findall(r'<details(?: class="session")? id="([a-z0-9-]+)"><summary>', page.replace("\n", ""))
    assert summaries == [
        "decide",
        *(f"session-{number}" for number in range(1, 7)),
        "bands",
        "surges",
        "drift",
        "test",
        "left",
        "reading",
    ]
    assert "<details open" not in page


def test_every_session_has_a_ribbon_a_section_and_a_link(seen: Outline) -> None:
    ids = {attrs["id"] for _, attrs in seen.tags if "id" in attrs}
    for number in range(1, 7):
        assert {f"session-{number}", f"session-{number}-ribbon"} <= ids
    links = [str(attrs["href"]) for tag, attrs in seen.tags if tag == "a" and "session" in str(attrs["href"])]
    assert links == [f"#session-{number}" for number in range(1, 7)]
    assert "single-use lancet" not in seen.words()


def test_every_id_is_used_once_and_every_reference_is_met(seen: Outline) -> None:
    ids = [attrs["id"] for _, attrs in seen.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    wanted = {attrs["aria-labelledby"] for _, attrs in seen.tags if "aria-labelledby" in attrs}
    wanted |= {attrs[name] for _, attrs in seen.tags for name in ("data-plot", "data-ribbon") if name in attrs}
    wanted |= {str(attrs["href"])[1:] for _, attrs in seen.tags if str(attrs.get("href", "")).startswith("#")}
    assert wanted <= set(ids)


def test_every_figure_is_told_in_words_and_has_data(seen: Outline) -> None:
    plots = {str(attrs["id"]): attrs for _, attrs in seen.tags if attrs.get("class") == "plot"}
    data = {str(attrs["data-plot"]): json.loads(text) for attrs, text in seen.scripts if "data-plot" in attrs}
    assert set(plots) == set(data)
    ribbons = {str(attrs["id"]): attrs for _, attrs in seen.tags if attrs.get("class") == "ribbon"}
    assert set(ribbons) == {str(attrs["data-ribbon"]) for attrs, _ in seen.scripts if "data-ribbon" in attrs}
    told = (*plots.values(), *ribbons.values())
    assert all(len(str(attrs["aria-label"])) > 20 and attrs["role"] == "img" for attrs in told)
    assert all(spec["data"] for spec in data.values())


def test_every_ribbon_stands_in_the_page_before_any_script_runs(page: str) -> None:
    body = page[: page.index("<script")]
    for audit, drawing in zip(week(hard_session()).audits, body.split('class="ribbon"')[1:], strict=True):
        pieces = drawing[: drawing.index("</svg>")].count("<rect x=")
        assert pieces >= 1
        ticks = drawing[: drawing.index("</div>")].count('class="s-tick"')
        assert ticks == (audit.surges.count if audit.surges else 0)


def test_answer_numbers_cautions_and_leftovers_are_there(seen: Outline) -> None:
    text = seen.words()
    for wanted in (
        "Week 20, 11 to 17 May 2026",
        "Hold the last part at 200 W or less.",
        "206 to 219 W",
        "3 weeks old",
        "10 weeks old",
        "18:16:12 (0:13:32 into the session)",
        "licensed professional",
        "notes.txt: expected a FIT or GPX file, found text.",
        "No test of that sport was found.",
        "steptest.baseline_max",
        "no published cut-off exists",
        "cycling, heavy not as planned at most 15 min 37 min 0",
        "the test still fits",
    ):
        assert wanted in text


def test_nothing_can_be_loaded_and_only_the_carried_scripts_may_run(page: str, seen: Outline) -> None:
    policies = [attrs["content"] for _, attrs in seen.tags if attrs.get("http-equiv") == "Content-Security-Policy"]
    assert len(policies) == 1
    policy = str(policies[0])
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe-eval" not in policy
    assert "http" not in policy
    for text in runnable(seen):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy
    assert policy.count("'sha256-") == len(runnable(seen)) + 1
    (held,) = (text for attrs, text in seen.scripts if attrs.get("type") == "text/plain")
    plotly = hashlib.sha256(gzip.decompress(base64.b64decode(held, validate=True))).digest()
    assert f"'sha256-{base64.b64encode(plotly).decode()}'" in policy
    assert not [attrs for _, attrs in seen.tags if "src" in attrs or str(attrs.get("href", "#"))[0] != "#"]
    assert not [name for _, attrs in seen.tags for name in attrs if name.startswith("on")]


def test_page_is_under_a_megabyte(page: str) -> None:
    assert len(page.encode()) < MEGABYTE


def test_plotly_is_inside_once_and_packed(page: str, seen: Outline) -> None:
    assert len([attrs for attrs, _ in seen.scripts if attrs.get("id") == "plotly"]) == 1
    assert "* plotly.js" not in page


def test_hostile_names_stay_text() -> None:
    def evil(audit: object) -> object:
        return replace(audit, info=replace(audit.info, file=EVIL, name=EVIL, sport=EVIL, intent_source=EVIL))  # type: ignore[attr-defined, type-var]

    review = week(name=EVIL)
    bad = replace(
        review,
        answer=EVIL,
        subline=EVIL,
        audits=tuple(evil(audit) for audit in review.audits),  # type: ignore[arg-type]
        sports=tuple(replace(item, sport=EVIL) for item in review.sports),
        left_out=(EVIL,),
    )
    text = week_page(bad)
    seen = outline(text)
    assert "img" not in [tag for tag, _ in seen.tags]
    assert EVIL not in "".join(runnable(seen))
    assert len(runnable(seen)) == len(runnable(outline(week_page(week()))))
    assert EVIL in seen.words()
    data = [json.loads(body) for attrs, body in seen.scripts if attrs.get("type") == "application/json"]
    assert len(data) == len(seen.scripts) - len(runnable(seen)) - 1


def _bare(review: Review) -> Review:
    return replace(
        review,
        audits=(),
        sports=(),
        tests=(),
        changes=(),
        went_well=(),
        decisions=(),
        left_out=(),
        unreadable=(),
        plan=(),
    )


def test_a_week_without_anything_is_still_a_page() -> None:
    seen = outline(week_page(_bare(week())))
    assert "No step test was found in the athlete folder." in seen.words()
    assert "Nothing: every file was read whole." in seen.words()


def test_the_page_tells_the_limits_in_force_and_not_the_defaults() -> None:
    review = week()
    settings = review.athlete.settings
    changed = replace(
        settings,
        surges=replace(settings.surges, dose_s=2.5, micro_max_s=45),
        drift=replace(settings.drift, window_s=420, hr_drift_percent=7),
    )
    words = outline(week_page(replace(review, athlete=replace(review.athlete, settings=changed)))).words()
    assert (
        "In a surge the 11-s mean adds up to at least 2.5 s' worth of the ceiling above it; up to 45 s above it is a"
        in words
    )
    assert "1.5 s' worth" not in words
    assert "Above the ceiling: the 7 min mean load was at or over it." in words
    assert "Heart-rate drift over 7 % is flagged" in words


def test_a_week_of_runs_alone() -> None:
    seen = outline(week_page(replace(week(), audits=(run_without_easy(),))))
    assert "min/km" in seen.words()
    assert "unsure: agreement 61 %" in seen.words()


def test_two_sessions_of_a_day_are_told_apart() -> None:
    first = steady_ride()
    again = replace(surging_ride(), info=replace(surging_ride().info, local_start=first.info.local_start))
    text = outline(week_page(replace(week(), audits=(first, again)))).words()
    assert "Tue 12 May, ride 07:31" in text


def test_session_without_zones_or_load_is_shown_without_made_up_numbers() -> None:
    ride = steady_ride()
    bare = replace(ride, zones=None, load=None, bands=None, surges=None, drift=None)
    seen = outline(week_page(replace(week(), audits=(bare,))))
    assert "Compared with no test" in seen.words()


def test_fourteen_sessions_stay_under_a_megabyte_and_a_half() -> None:
    review = week()
    many = (steady_ride(), surging_ride()) * 7
    assert len(week_page(replace(review, audits=many, own_words=(OwnWords(),) * len(many))).encode()) < 1.5 * MEGABYTE
