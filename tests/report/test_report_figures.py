"""Figures: plotly accepts them, every second and every surge is in them, nothing is zoomable."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from report_builders import (
    as_plotly,
    drifting_ride,
    hard_session,
    run_without_easy,
    steady_ride,
    surging_ride,
    unjudged_ride,
    week,
)

from steadyband.audit.model import PAUSE, Audit
from steadyband.report.common.figure_base import HATCH, elapsed_ms, hour_marks, longest_of
from steadyband.report.common.hours import band_hours
from steadyband.report.common.page_ribbon import page_ribbon
from steadyband.report.common.palette import BAND_COLOURS, DARK, LIGHT
from steadyband.report.common.terminal_ribbon import ribbon_text
from steadyband.report.common.words import Loads, drift_span
from steadyband.report.session.figure import load_marks, session_figure

ALL = (steady_ride, surging_ride, run_without_easy, drifting_ride, hard_session)


def _contrast(one: str, two: str) -> float:
    """Contrast of two colours (WCAG 2.2, definition of contrast ratio and relative luminance; published)."""

    def light(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    bright, dim = sorted((light(one), light(two)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ink", ["ink", "soft", "amiss", "link"])
def test_text_has_contrast_on_the_page(palette: dict[str, str], ink: str) -> None:
    assert _contrast(palette[ink], palette["paper"]) >= 4.5  # WCAG 2.2, success criterion 1.4.3, level AA (published)


def test_bands_look_as_the_vocabulary_says() -> None:
    # the colours are the project's own, VOCABULARY.md, section Look
    assert dict(BAND_COLOURS) == {"easy": "#A9D3CF", "steady": "#2C6E8F", "heavy": "#D98A29", "severe": "#7B2D4E"}
    assert {name: LIGHT[name] for name in BAND_COLOURS} == dict(BAND_COLOURS)
    assert set(HATCH) == {"heavy", "severe", "unmeasured"}


def test_bands_differ_in_lightness_for_grey_print() -> None:
    for one, two in (("easy", "steady"), ("steady", "heavy"), ("easy", "heavy"), ("easy", "severe")):
        assert _contrast(BAND_COLOURS[one], BAND_COLOURS[two]) > 1.6


def test_ribbons_cover_their_session_and_keep_every_surge() -> None:
    audits = week(hard_session()).audits
    longest = longest_of(audits)
    drawn = [page_ribbon(audit, "one", "", longest) for audit in audits]
    assert len({ribbon.marks for ribbon in drawn}) == 1
    for audit, ribbon in zip(audits, drawn, strict=True):
        starts, ends = ribbon.tips["starts"], ribbon.tips["ends"]
        assert starts[0] == 0
        assert starts[1:] == ends[:-1]
        assert ends[-1] == len(audit.traces.ribbon)
        assert len(ribbon.pieces) == len(starts)
        assert ribbon.tips["ticks"] == [event.start_s for event in (audit.surges.events if audit.surges else ())]


def test_pointing_at_a_ribbon_names_time_band_and_load() -> None:
    ribbon = page_ribbon(steady_ride(), "one", "", 9000)
    steady = next(
        text for piece, text in zip(ribbon.pieces, ribbon.tips["texts"], strict=True) if piece.css == "steady"
    )
    assert "\nsteady, " in steady
    assert " W" in steady
    assert steady[2] == ":"


@pytest.mark.parametrize("make", ALL)
def test_session_figure_keeps_peaks_edges_and_surges(make: object) -> None:
    audit: Audit = make()  # type: ignore[operator]
    figure = as_plotly(session_figure(audit)).to_plotly_json()
    faint = next(trace for trace in figure["data"] if trace["name"] == "each second")
    assert max(y for y in faint["y"] if y is not None) == pytest.approx(np.nanmax(audit.traces.load), abs=0.5)
    ticks = [x for trace in figure["data"] if trace["name"] == "surges" for x in trace["x"]]
    assert ticks == [elapsed_ms(event.start_s) for event in (audit.surges.events if audit.surges else ())]
    assert audit.zones is not None
    lines = {shape["y0"] for shape in figure["layout"]["shapes"] if shape["type"] == "line"}
    assert {audit.zones.floor, audit.zones.target_top, audit.zones.ceiling} <= lines
    assert figure["layout"]["xaxis"]["fixedrange"] is True
    assert len(faint["x"]) <= 1400


def test_times_are_never_read_as_years() -> None:
    """plotly takes numbers of up to four digits on a date axis for years (seen in a browser): none may be that small."""
    for trace in as_plotly(session_figure(steady_ride())).to_plotly_json()["data"]:
        assert min(trace["x"]) >= 10_000


def test_open_ceiling_missing_heart_rate_and_no_test_are_drawn() -> None:
    ride = steady_ride()
    assert ride.zones is not None
    dark = replace(ride.traces, heart_rate_bpm=np.full(len(ride.traces.load), np.nan))
    open_ended = replace(ride.zones, ceiling=None, ceiling_at_least=212.0, ceiling_range=(206.0, None))
    for audit in (replace(ride, traces=dark, zones=open_ended), replace(ride, zones=None, surges=None)):
        figure = as_plotly(session_figure(audit)).to_plotly_json()
        json.dumps(figure["data"], allow_nan=False)
        assert "yaxis2" not in figure["layout"] or audit.zones is None


def test_session_judged_by_heart_rate_draws_its_limits() -> None:
    ride = steady_ride()
    assert ride.load is not None
    beats = ride.traces.heart_rate_bpm
    judged = replace(ride, load=replace(ride.load, channel="heart_rate", unit="bpm"), surges=None)
    figure = as_plotly(
        session_figure(replace(judged, traces=replace(ride.traces, load=beats, band_load=beats)))
    ).to_plotly_json()
    lines = {shape["y0"] for shape in figure["layout"]["shapes"] if shape["type"] == "line"}
    assert lines == {118.0, 124.0, 128.0}  # by hand: the heart-rate limits of the builder's test
    assert "yaxis2" not in figure["layout"]


def test_hours_figure_adds_up() -> None:
    figure = as_plotly(
        band_hours([("a <b>", {"easy": 3600, "steady": 1800}), ("week: 1 ride", {"heavy": 900})])
    ).to_plotly_json()
    assert {bar["name"]: list(bar["x"]) for bar in figure["data"]} == {  # by hand: seconds / 3600
        "easy": [1.0, 0.0],
        "steady": [0.5, 0.0],
        "heavy": [0.0, 0.25],
    }
    assert figure["layout"]["yaxis"]["ticktext"][0] == "a &lt;b&gt;"


@pytest.mark.parametrize(
    ("seconds", "last"), [(1500, "25 min"), (5460, "1 h 30"), (12020, "3 h"), (40000, "10 h"), (200000, "48 h")]
)
def test_time_marks(seconds: int, last: str) -> None:
    marks = hour_marks(seconds)
    assert marks[0] == (0, "0")
    assert marks[-1][1] == last
    assert len(marks) <= 8


def test_speed_axis_has_round_paces_apart_from_one_another() -> None:
    marks = load_marks(Loads("min/km"), 1.5, 3.2)
    texts = [Loads("min/km").bare(mark) for mark in marks]
    assert "6:00" in texts
    assert all(text.endswith((":00", ":30")) for text in texts)
    assert 3 <= len(marks) <= 11
    assert [Loads("km/h").bare(mark) for mark in load_marks(Loads("km/h"), 2.0, 3.0)] == ["8.0", "9.0", "10.0"]


def test_not_judged_session_has_a_ribbon_of_dots() -> None:
    ribbon = page_ribbon(unjudged_ride(), "one", "", 9000)
    assert {piece.css for piece in ribbon.pieces} == {"unmeasured"}


def test_a_flagged_drift_is_marked_under_its_ribbon_for_as_long_as_the_finding_says() -> None:
    # by hand: the drift begins in second 8540 and lasts 3480 banded seconds; nothing pauses, so it ends at 12,020
    audit = drifting_ride()
    assert drift_span(audit) == (8540, 12020)
    drawn = page_ribbon(audit, "one", "", 12020)
    assert drawn.drift == ("71.05", "100.00")
    paused = audit.traces.ribbon.copy()
    paused[9000:9010] = PAUSE  # ten seconds that do not count: the same drift would end ten seconds later
    shorter = replace(
        audit, traces=replace(audit.traces, ribbon=paused), drift=replace(audit.drift, load_longest_s=1000)
    )
    assert drift_span(shorter) == (8540, 9550)
    unflagged = replace(audit, verdict=replace(audit.verdict, findings=()))
    assert drift_span(unflagged) is None
    assert "▔" in ribbon_text(audit, 60).plain
    assert "▔" not in ribbon_text(unflagged, 60).plain
