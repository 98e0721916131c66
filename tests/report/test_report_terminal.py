"""What the terminal shows: fits the width, says what it should, lets no foreign text act on the screen."""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Callable
from dataclasses import replace

import pytest
from report_builders import drifting_ride, hard_session, steady_ride, surging_ride, unjudged_ride, week, zone_set
from rich.console import Console, RenderableType

from steadyband.ground.settings import Settings
from steadyband.report.session.terminal import audit_view
from steadyband.report.settings.terminal import settings_view
from steadyband.report.test.terminal import zones_view
from steadyband.report.week.terminal import week_view

VIEWS: dict[str, Callable[[], RenderableType]] = {
    "zones": lambda: zones_view(zone_set(), ("Easy: everything below 180 W.",)),
    "zones on foot": lambda: zones_view(zone_set(running=True), ()),
    "week": lambda: week_view(week(hard_session())),
    "steady": lambda: audit_view(steady_ride()),
    "surging": lambda: audit_view(surging_ride()),
    "drifting": lambda: audit_view(drifting_ride()),
    "not judged": lambda: audit_view(unjudged_ride()),
    "settings": lambda: settings_view(Settings()),
}


def shown(view: RenderableType, width: int = 80, encoding: str = "utf-8") -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    Console(file=file, width=width, highlight=False).print(view)
    file.flush()
    return raw.getvalue().decode(encoding)


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("name", VIEWS)
@pytest.mark.parametrize("width", [80, 100, 50])
def test_fits_the_width(name: str, width: int) -> None:
    assert max(len(line) for line in shown(VIEWS[name](), width).splitlines()) <= width


@pytest.mark.parametrize("name", ["week", "surging", "settings"])
def test_no_escape_codes_where_there_is_no_terminal(name: str) -> None:
    assert "\x1b" not in shown(VIEWS[name]())


def test_audit_says_test_age_findings_places_and_quality() -> None:
    text = one_line(shown(audit_view(surging_ride())))
    assert "Thu 14 May, ride: surges" in text
    assert "Compared with the test of 20 April 2026 (2026-04-20-bike.toml), made 22 days before" in text
    assert "18:16:12 (0:13:32 into the session)" in text  # by hand: start 18:02:40 + 812 s
    assert "2 dropped" in text
    assert "Above 2,500 W for 3 s: power." in text
    assert "Agreement 97 %." in text


def test_unjudged_says_why_and_damage() -> None:
    text = one_line(shown(audit_view(unjudged_ride())))
    assert "The recording holds nothing to judge by" in text
    assert "The file breaks off after 4,300 of its records." in text


def test_week_opens_with_the_answer_and_shows_each_session_once() -> None:
    text = shown(week_view(week(hard_session())))
    assert one_line(text).startswith("Two of four endurance sessions held the band.")
    starts = ("Tue 12 May", "Wed 13 May", "Thu 14 May", "Fri 15 May", "Sat 16 May", "Sun 17 May")
    assert [sum(line.startswith(day) for line in text.splitlines()) for day in starts] == [1] * 6


def test_shared_time_axis_ribbon_lengths_are_in_proportion() -> None:
    lines = shown(week_view(week())).splitlines()
    ribbons = [line for line in lines if line and set(line) <= set("░▒▓█ ·") and len(line.strip()) > 10]
    # by hand: 80 columns for the longest, 12,020 s; so 5,460, 7,900, 2,760 and 4,300 s take 36, 52, 18 and 28
    assert [len(line.rstrip()) for line in ribbons] == [36, 52, 18, 80, 28]


def test_settings_show_changed_values_and_their_defaults() -> None:
    text = one_line(shown(settings_view(Settings.from_mapping({"bands": {"window_s": 21}}))))
    assert "[settings.bands]" in text
    assert "window_s = 21 s, changed (default 31, from 1 to 301; design choice, S7)" in text
    assert "surges_per_hour = 6 1/h (default 6, from 0 up; design choice, simulated)" in text
    assert "hot_c = 25 °C (default 25, from -50 to 60; design choice)" in text
    every = [
        item for group in dataclasses.fields(Settings) for item in dataclasses.fields(getattr(Settings(), group.name))
    ]
    for item in every:
        assert f"{item.name} = " in text
        assert one_line(f"{item.metadata['meaning'][:1].upper()}{item.metadata['meaning'][1:]}.") in text
    assert "20260420" in text


def test_escape_codes_in_names_never_reach_the_terminal() -> None:
    ride = steady_ride()
    evil = replace(ride, info=replace(ride.info, file="a\x1b]0;owned\x07.fit", name="b\x1b[2J\u202e"))
    text = shown(audit_view(evil))
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "\u202e" not in text


def test_ascii_screens_get_ascii_ribbons() -> None:
    text = shown(audit_view(steady_ride()), encoding="ascii")
    assert "= steady" in text
