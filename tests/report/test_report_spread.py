"""Where the time lay: every banded second is in a bar of its band, and the table says the same."""

from __future__ import annotations

import pytest
from report_builders import as_plotly, hard_session, steady_ride, surging_ride

from steadyband.audit.model import BAND_NAMES
from steadyband.report.session.spread import is_uneven, spread_figure, spread_of, spread_plot, spread_table


def test_bars_hold_every_banded_second() -> None:
    audit = surging_ride()
    found = spread_of(audit)
    assert found is not None
    assert audit.bands is not None
    for code, name in enumerate(BAND_NAMES):
        assert found.seconds[:, code].sum() == pytest.approx(audit.bands[name].seconds, abs=60)
    drawn = as_plotly(spread_figure(audit, found))
    assert sum(sum(trace.y) for trace in drawn.data) == pytest.approx(found.seconds.sum() / 60, abs=1)
    shares = [row[-1] for row in spread_table(found).rows]
    assert all(share.endswith(" %") for share in shares)


def test_it_is_drawn_for_uneven_sessions_alone() -> None:
    assert is_uneven(surging_ride())
    assert is_uneven(hard_session())
    assert spread_plot(steady_ride()) is None
