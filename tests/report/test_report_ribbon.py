"""Ribbons: runs, shrinking, and block characters."""

from __future__ import annotations

import io
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_builders import steady_ride, surging_ride, unjudged_ride
from rich.console import Console

from steadyband.audit.model import EASY, GAP, HEAVY, PAUSE, SEVERE, STEADY
from steadyband.report.common.ribbon import runs, shrunk
from steadyband.report.common.terminal_ribbon import RibbonView, columns, key_text, ribbon_text

CODES = st.lists(st.integers(0, 7), min_size=1, max_size=300).map(lambda codes: np.array(codes, dtype=np.uint8))


def test_runs_of_a_ribbon_read_off_by_hand() -> None:
    ribbon = np.array([0, 0, 1, 1, 1, 6, 0], dtype=np.uint8)
    found = [(run.start_s, run.length_s, run.code) for run in runs(ribbon)]
    assert found == [(0, 2, EASY), (2, 3, STEADY), (5, 1, PAUSE), (6, 1, EASY)]  # by hand: counted in the list above


def test_empty_ribbon_has_no_runs() -> None:
    assert runs(np.array([], dtype=np.uint8)) == ()


@given(ribbon=CODES, step=st.integers(1, 40))
def test_runs_cover_every_second_once_at_any_resolution(ribbon: np.ndarray, step: int) -> None:
    found = runs(ribbon, step)
    assert found[0].start_s == 0
    assert sum(run.length_s for run in found) == len(ribbon)
    assert all(a.start_s + a.length_s == b.start_s and a.code != b.code for a, b in pairwise(found))


@given(ribbon=CODES)
def test_runs_at_full_resolution_give_the_ribbon_back(ribbon: np.ndarray) -> None:
    back = np.concatenate([np.full(run.length_s, run.code) for run in runs(ribbon)])
    assert back.tolist() == ribbon.tolist()


def test_a_piece_takes_the_code_that_fills_most_of_it_and_ties_go_up() -> None:
    ribbon = np.array([0, 0, 1, 1, 2, 3, 7, 7, 7], dtype=np.uint8)
    # by hand, pieces of three: easy easy steady -> easy; steady heavy severe, one each -> severe; gaps -> gap
    assert shrunk(ribbon, 3).tolist() == [EASY, SEVERE, GAP]


@given(ribbon=CODES, width=st.integers(1, 120))
def test_columns_are_as_many_as_asked_for_and_hold_only_codes_that_were_there(ribbon: np.ndarray, width: int) -> None:
    found = columns(ribbon, width)
    assert len(found) == min(width, len(ribbon))
    assert set(found.tolist()) <= set(ribbon.tolist())


def test_ascii_ribbon_by_hand() -> None:
    audit = steady_ride()
    codes = np.repeat(np.array([EASY, STEADY, HEAVY, SEVERE, PAUSE], dtype=np.uint8), 10)
    audit.traces.ribbon.resize(50, refcheck=False)
    audit.traces.ribbon[:] = codes
    assert ribbon_text(audit, 5, "ascii").plain.splitlines()[1] == ".=#% "  # by hand: one column a band


@pytest.mark.parametrize("width", [1, 7, 40, 80, 200])
def test_no_surge_tick_is_lost(width: int) -> None:
    audit = surging_ride()
    assert audit.surges is not None
    ticks, band = ribbon_text(audit, width, "blocks").plain.split("\n")
    wanted = {event.start_s * width // len(audit.traces.ribbon) for event in audit.surges.events}
    assert len(ticks) == len(band) == width
    assert {place for place, char in enumerate(ticks) if char == "╷"} == wanted
    assert len(wanted) > 0


def _printed(encoding: str, **options: object) -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    Console(file=file, width=60, **options).print(RibbonView(surging_ride()))  # type: ignore[arg-type]
    file.flush()
    return raw.getvalue().decode(encoding)


def test_plain_fallback_without_utf_8() -> None:
    text = _printed("ascii")
    assert set(text) <= set(" .=#%-:|\n")
    assert "|" in text
    assert "=" in text


def test_shades_without_colour_and_colours_where_there_are_many() -> None:
    assert "▒" in _printed("utf-8")
    coloured = _printed("utf-8", force_terminal=True, color_system="truecolor")
    assert "\x1b[" in coloured
    assert "48;2;44;110;143" in coloured  # the steady colour of VOCABULARY.md, #2C6E8F, in decimal by hand
    assert "48;2" not in _printed("utf-8", force_terminal=True, color_system="truecolor", no_color=True)


def test_key_names_what_occurs_and_nothing_else() -> None:
    key = key_text((unjudged_ride(),), "blocks").plain
    assert "unmeasured" in key
    assert "heavy" not in key
