"""Distance on the Earth's surface."""

from __future__ import annotations

import numpy as np

from steadyband.ground.units import EARTH_RADIUS_M
from steadyband.recording.model import FloatArray


def step_m(lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
    """Great-circle distance between consecutive points (METHOD 2).

    `lat_deg`, `lon_deg` [n] degrees (WGS84 taken as a sphere of the mean radius; within 0.6 % of the ellipsoid).
    Returns [n-1] metres, NaN beside a missing point. Haversine formula, from memory.
    """
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    half_lat, half_lon = np.diff(lat) / 2, np.diff(lon) / 2
    chord = np.sin(half_lat) ** 2 + np.cos(lat[:-1]) * np.cos(lat[1:]) * np.sin(half_lon) ** 2
    metres: FloatArray = 2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(chord, 0.0, 1.0)))
    return metres


def between_m(lat_deg: FloatArray, lon_deg: FloatArray, lat: float, lon: float) -> FloatArray:
    """Great-circle distance [m, n] from each point to one other [deg], NaN beside a missing one; as `step_m`."""
    there, here = np.radians(lat_deg), np.radians(lat)
    half_lat, half_lon = (there - here) / 2, np.radians(lon_deg - lon) / 2
    chord = np.sin(half_lat) ** 2 + np.cos(there) * np.cos(here) * np.sin(half_lon) ** 2
    metres: FloatArray = 2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(chord, 0.0, 1.0)))
    return metres
