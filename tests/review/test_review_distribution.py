"""Polarization arithmetic and the three domains."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from many_sessions import BIKE, session

from steadyband.review.distribution import distribution, polarization_index

DAY = date(2026, 2, 2)


@pytest.mark.parametrize(
    ("shares", "index"),
    [
        # Published arithmetic: Treff et al. (2019), doi:10.3389/fphys.2019.00707, as noted in SOURCES S8.
        ((0.80, 0.05, 0.15), 2.380),
        ((0.75, 0.08, 0.17), 2.202),
        ((0.80, 0.15, 0.05), 1.426),
    ],
)
def test_index(shares: tuple[float, float, float], index: float) -> None:
    assert polarization_index(*shares) == pytest.approx(index, abs=0.0005)


def test_rules_for_empty_zones() -> None:
    """From memory (SOURCES S8): zone 3 empty gives 0; zone 3 above zone 1 is not computed; zone 2 empty takes 0.01."""
    assert polarization_index(0.9, 0.1, 0.0) == 0.0
    assert polarization_index(0.2, 0.3, 0.5) is None
    # By hand: 0.9 / 0.01 x 0.09 x 100 = 810, log10 810 = 2.9085.
    assert polarization_index(0.9, 0.0, 0.1) == pytest.approx(2.9085, abs=0.0005)
    assert polarization_index(0.995, 0.0, 0.005) == 0.0
    assert polarization_index(0.0, 1.0, 0.0) is None


def test_index_refuses_shares_that_are_none() -> None:
    with pytest.raises(ValueError, match="add up to 1"):
        polarization_index(0.5, 0.2, 0.2)
    with pytest.raises(ValueError, match="add up to 1"):
        polarization_index(1.2, -0.2, 0.0)


def test_more_hard_time_for_steady_time_polarizes() -> None:
    found = [polarization_index(0.8, 0.2 - high, high) for high in (0.02, 0.05, 0.10, 0.15)]
    assert found == sorted(found)


def test_the_upper_border_is_the_threshold_where_every_session_has_one() -> None:
    strict = session(DAY, zones=replace(BIKE, threshold=260.0), bands=(60, 20, 10, 10))
    open_end = session(DAY, bands=(60, 20, 20, 0))
    found = distribution([strict])
    # By hand: easy 60 of 100; steady and heavy 30; severe 10.
    assert found is not None
    assert (found.low, found.middle, found.high, found.by_threshold) == (0.6, 0.3, pytest.approx(0.1), True)
    both = distribution([strict, open_end])
    assert both is not None
    assert (both.low, both.middle, both.high, both.by_threshold) == (0.6, 0.2, pytest.approx(0.2), False)


def test_nothing_banded_is_no_distribution() -> None:
    assert distribution([session(DAY, zones=None, in_band=None)]) is None
