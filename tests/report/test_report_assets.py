"""The shared copy of plotly: written once and whole, pages beside it small, and the policy that allows nothing else."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from report_builders import hard_session, steady_ride, surging_ride, week

from steadyband.athlete.own_words import OwnWords
from steadyband.ground.errors import SteadybandError
from steadyband.report.common import assets
from steadyband.report.common.assets import drawer, plotly_script, policies, share_plotly
from steadyband.report.common.beside import Beside
from steadyband.report.week.page import week_page

KILOBYTES_400 = 400_000


def test_the_copy_is_written_once_and_whole(tmp_path: Path) -> None:
    page = tmp_path / "sessions" / "one.html"
    way = share_plotly(tmp_path, page)
    copy = next((tmp_path / "assets").iterdir())
    assert way == f"../assets/{copy.name}"
    assert re.fullmatch(r"plotly-basic-\d+\.\d+\.\d+\.min\.js", copy.name)
    assert copy.read_text(encoding="utf-8") == plotly_script()
    before = copy.stat().st_mtime_ns
    assert share_plotly(tmp_path, tmp_path / "week.html") == f"assets/{copy.name}"
    assert copy.stat().st_mtime_ns == before


@pytest.mark.parametrize("damage", [b"", b"half", None])
def test_a_damaged_copy_is_replaced(tmp_path: Path, damage: bytes | None) -> None:
    share_plotly(tmp_path, tmp_path / "week.html")
    copy = next((tmp_path / "assets").iterdir())
    whole = copy.read_bytes()
    copy.write_bytes(damage if damage is not None else b"x" * len(whole))
    share_plotly(tmp_path, tmp_path / "week.html")
    assert copy.read_bytes() == whole


def test_a_folder_that_cannot_be_made_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / assets.FOLDER).write_text("in the way")
    with pytest.raises(SteadybandError, match="expected to write this file"):
        share_plotly(tmp_path, tmp_path / "week.html")


def test_a_week_beside_the_copy_is_under_400_kilobytes() -> None:
    page = week_page(week(hard_session()), Beside("assets/plotly.min.js"))
    assert len(page.encode()) < KILOBYTES_400
    assert "/*! fflate" not in page
    assert 'id="plotly" data-href' in page
    assert 'data-href="assets/plotly.min.js"' in page


def test_each_further_session_adds_less_than_60_kilobytes() -> None:
    review = week()
    more = replace(
        review,
        audits=(*review.audits, steady_ride(), surging_ride()),
        own_words=(OwnWords(),) * (len(review.audits) + 2),
    )
    small, large = (len(week_page(one, Beside("assets/plotly.min.js")).encode()) for one in (review, more))
    assert large - small < 2 * 60_000


def test_two_policies_hold_with_a_copy_and_one_without() -> None:
    inside = policies(["one()"], drawer())
    assert len(inside) == 1
    assert "'strict-dynamic'" not in inside[0]
    assert "'self'" not in inside[0]
    beside = policies(["one()"], drawer("assets/plotly.js"))
    assert len(beside) == 2
    for policy in (*inside, *beside):
        assert policy.startswith("default-src 'none'; script-src 'sha256-")
        assert not {"unsafe-eval", "http:", "https:", "file:", "*"} & set(policy.replace("'", " ").split())
    assert policies([])[0].startswith("default-src 'none'; script-src 'none'")


def test_a_page_beside_the_copy_says_what_to_do_when_it_is_gone() -> None:
    page = week_page(week(), Beside("assets/plotly.min.js"))
    assert "The figures are not drawn, because the file they are drawn with, assets/plotly.min.js, is not where" in page
    alone = week_page(week())
    assert "is not where this page looks for it" not in alone
    assert "The figures are not drawn: this browser could not unpack or run the script that draws them." in alone
