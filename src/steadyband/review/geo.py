"""A session's surges and climbs as GeoJSON (RFC 7946): points and lines that any map can show."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from steadyband.audit.model import Audit, Climb, Surge
from steadyband.ground.values import picked
from steadyband.review.frames_within import Source, audits_of

DECIMALS = 6
"""Decimals of a degree: 0.1 m, more than any receiver knows."""


def geojson(source: Source, *, positions: bool = True) -> dict[str, Any]:
    """The surges (points) and climbs (lines) of an audit, of several, or of an athlete folder, as one FeatureCollection.

    Positions are [longitude, latitude] in degrees, WGS 84. What lies within `privacy_m` of a track's start and end, or has no
    position, has the geometry null, as all have with `positions` False; properties hold no position.

    >>> geojson([])
    {'type': 'FeatureCollection', 'features': []}
    """
    features = [feature for audit in audits_of(source) for feature in _features(audit)]
    features = features if positions else [feature | {"geometry": None} for feature in features]
    return {"type": "FeatureCollection", "features": features}


def _features(audit: Audit) -> Iterable[dict[str, Any]]:
    own = picked(audit.info, "file", "start", "sport")
    for surge in audit.surges.events if audit.surges else ():
        told = picked(
            surge, "start_s", "seconds_above", "mean", "highest", "dose_s", "cause", "forced", "micro", "grade"
        )
        yield _feature("surge", _point(surge), {**own, **told})
    for climb in audit.climbs:
        told = picked(climb, "start_m", "length_m", "height_m", "mean_grade", "mean_load", "surges", "seconds_above")
        yield _feature("climb", _line(audit, climb), {**own, **told})


def _feature(kind: str, geometry: dict[str, Any] | None, properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": {"kind": kind, **properties}}


def _point(surge: Surge) -> dict[str, Any] | None:
    if surge.lat is None or surge.lon is None:
        return None
    return {"type": "Point", "coordinates": _at(surge.lon, surge.lat)}


def _line(audit: Audit, climb: Climb) -> dict[str, Any] | None:
    """The track of a climb as far as it may be told; one that is hidden in its middle is told from its longest part."""
    within = slice(climb.start_s, climb.start_s + climb.seconds)
    lat, lon = audit.traces.lat_deg[within], audit.traces.lon_deg[within]
    known = np.isfinite(lat) & np.isfinite(lon)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], known.astype(np.int8), [0]))))
    start, end = max(zip(edges[::2], edges[1::2], strict=True), key=lambda span: span[1] - span[0], default=(0, 0))
    places = [_at(float(x), float(y)) for x, y in zip(lon[start:end], lat[start:end], strict=True)]
    moved = [place for number, place in enumerate(places) if number == 0 or place != places[number - 1]]
    return {"type": "LineString", "coordinates": moved} if len(moved) > 1 else None


def _at(lon: float, lat: float) -> list[float]:
    return [round(lon, DECIMALS), round(lat, DECIMALS)]
