"""Positions that may be told: the start and the end of a track are left out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.model import SessionInfo
from steadyband.recording.geo import between_m
from steadyband.recording.model import Rows

FloatArray = NDArray[np.float64]


def told_positions(rows: Rows, info: SessionInfo) -> tuple[FloatArray, FloatArray]:
    """Latitude and longitude [deg, n], NaN within `privacy_m` of the first and the last position of the track.

    Every passage near them is left out, not only the first and the last one; all of it with positions switched off.
    """
    lat, lon = rows.channels["lat_deg"], rows.channels["lon_deg"]
    known = np.flatnonzero(~np.isnan(lat) & ~np.isnan(lon))
    hidden = np.full(len(rows), not info.positions)
    for row in known[[0, -1]] if len(known) else ():
        hidden |= between_m(lat, lon, float(lat[row]), float(lon[row])) < info.privacy_m
    return np.where(hidden, np.nan, lat), np.where(hidden, np.nan, lon)
