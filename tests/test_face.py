"""The public face: every name is there, and stays a function after the rooms of the same name are imported."""

from __future__ import annotations

import steadyband
import steadyband.audit.model
import steadyband.review.week


def test_every_name_is_there() -> None:
    assert [name for name in steadyband.__all__ if getattr(steadyband, name, None) is None] == []


def test_rooms_do_not_hide_the_functions_of_their_name() -> None:
    assert callable(steadyband.audit)
    assert callable(steadyband.review)
