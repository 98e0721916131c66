"""Distance on the Earth's surface."""

from __future__ import annotations

import numpy as np

from steadyband.ground.units import EARTH_RADIUS_M
from steadyband.recording.model import FloatArray


def step_m(lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
    """Great-circle distance between consecutive points [m, n-1], NaN beside a missing point (METHOD 2); see `apart_m`."""
    return apart_m(lat_deg[:-1], lon_deg[:-1], lat_deg[1:], lon_deg[1:])


def between_m(lat_deg: FloatArray, lon_deg: FloatArray, lat: float, lon: float) -> FloatArray:
    """Great-circle distance from each point to one other [m, n], NaN beside a missing one; see `apart_m`."""
    return apart_m(lat_deg, lon_deg, np.float64(lat), np.float64(lon))


def apart_m(
    lat_a: FloatArray, lon_a: FloatArray, lat_b: FloatArray | np.float64, lon_b: FloatArray | np.float64
) -> FloatArray:
    """Great-circle distance between points and others [m, n], shapes that broadcast (METHOD 2).

    Degrees (WGS84 taken as a sphere of the mean radius; within 0.6 % of the ellipsoid). Haversine formula, from memory.
    """
    here, there = np.radians(lat_a), np.radians(lat_b)
    half_lat, half_lon = (there - here) / 2, (np.radians(lon_b) - np.radians(lon_a)) / 2
    chord = np.sin(half_lat) ** 2 + np.cos(here) * np.cos(there) * np.sin(half_lon) ** 2
    metres: FloatArray = 2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(chord, 0.0, 1.0)))
    return metres
