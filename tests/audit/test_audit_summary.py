"""Mean and highest load of a session."""

from __future__ import annotations

import numpy as np
import pytest
from audit_builders import make_arrays, make_zone_set, power_rows

from steadyband.audit.session import summarise


def test_mean_and_highest_load_by_hand() -> None:
    # By hand: 100 s at 150 W, 100 s coasting at 0 W, 31 s at 310 W: the mean is (15,000 + 0 + 9,610) / 231 = 106.54 W;
    # the 31-s mean reaches 310 W at the middle second of the last 31 and stays there, since a window is cut at the end.
    power = np.concatenate((np.full(100, 150.0), np.zeros(100), np.full(31, 310.0)))
    found = summarise(make_arrays(power_rows(power), make_zone_set()))
    assert (found.channel, found.unit) == ("power", "W")
    assert found.mean == pytest.approx(24610 / 231)
    assert (found.max, found.mean_31s_max) == (310.0, pytest.approx(310.0))
