"""Random GPX texts for comparing readers, and what gpxpy and ElementTree give for them. For tests only.

Everything is drawn from a `random.Random`, so hypothesis can drive and shrink it and a long run can be seeded.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping
from datetime import UTC
from random import Random
from typing import Any

import numpy as np
from gpxpy.gpx import GPXException
from gpxpy.parser import GPXParser

from steadyband.recording.gpx.stream import GpxColumns

CHANNELS = {
    "hr": "heart_rate_bpm",
    "cad": "cadence_rpm",
    "power": "power_w",
    "speed": "speed_mps",
    "atemp": "temperature_c",
}
_NS = 'xmlns="http://www.topografix.com/GPX/1/1"'
_TIMES = ("Z", "Z", "Z", ".5Z", ".250Z", "+02:00", "", "-0530", "Zulu", ".1234567Z")
_ODD = (
    "<!-- a comment -->",
    "<![CDATA[x]]>",
    "<?pi?>",
    "<name>caf\u00e9 &amp; more</name>",
    "<ele>12<!-- in -->3</ele>",
    "<hdop>1.5</hdop><sat>7</sat><fix>3d</fix>",
    "<sat>7.0</sat>",
    "<fix>5d</fix>",
    "<ele>high</ele>",
    "<ele> </ele>",
    "<ele/>",
    "<speed>3.5</speed>",
    "<speed>nan</speed>",
    "<extensions><hr>x</hr></extensions>",
    '<extensions><T xmlns="urn:t"><hr>99</hr><cad>1_0</cad></T></extensions>',
    '<link href="a b"><text>hr</text></link>',
    "<trkpt/>",
    "<deep><deep><deep/></deep></deep>",
)


def random_gpx(rng: Random, odd: float = 0.05, points: int = 12) -> str:
    """A GPX text with some tracks; `odd` is the chance of each unusual choice."""
    version = rng.choice(("1.1", "1.1", "1.0"))
    head = f'<gpx version="{version}" creator="made up" {_NS if rng.random() < 0.8 else ""} xmlns:a="urn:a">'
    parts = [rng.choice(("", '<?xml version="1.0"?>\n')), head]
    if rng.random() < 0.3:
        parts.append('<metadata><bounds minlat="1" minlon="2" maxlat="3" maxlon="4"/></metadata>')
    if rng.random() < odd:
        parts.append(
            rng.choice(('<wpt lat="1" lon="2"/>', '<wpt lat="x" lon="2"/>', '<rte><rtept lat="1" lon="2"/></rte>'))
        )
    parts += [_track(rng, odd, points) for _ in range(rng.choice((1, 1, 2)))]
    return "".join(parts) + "</gpx>"


def _track(rng: Random, odd: float, points: int) -> str:
    inner = rng.choice(("", "<name>Loop</name>", "<name/>", "<number>1</number>")) + rng.choice(
        ("", "<type>ride</type>")
    )
    if rng.random() < odd:
        inner += rng.choice(_ODD)
    return f"<trk>{inner}{''.join(_segment(rng, odd, points) for _ in range(rng.choice((0, 1, 1, 2))))}</trk>"


def _segment(rng: Random, odd: float, points: int) -> str:
    kinds = [_kind(rng) for _ in range(rng.choice((1, 1, 2, 3)))]
    texts = []
    for second in range(rng.randint(0, points)):
        texts.append(_point(rng, rng.choice(kinds), second, odd))
        if rng.random() < odd:
            texts.append(rng.choice(_ODD))
    return f"<trkseg>{rng.choice(('', ' ', chr(10))).join(texts)}</trkseg>"


def _kind(rng: Random) -> tuple[str, str, str]:
    """Space between elements, zone of the times, extension."""
    tags = [
        f"<{prefix}{tag}>%d</{prefix}{tag}>"
        for tag in ("hr", "cad", "power", "x")
        for prefix in (rng.choice(("", "a:")),)
    ]
    kept = "".join(tag for tag in tags if rng.random() < 0.5)
    return rng.choice(("", "\n  ", " ")), rng.choice(_TIMES), f"<extensions>{kept}</extensions>" if kept else ""


def _point(rng: Random, kind: tuple[str, str, str], second: int, odd: float) -> str:
    space, zone, extension = kind
    place = [f'lat="{45 + second * 1e-4:.5f}"', f"lon='{7 - second * 1e-4}'"]
    if rng.random() < odd:
        rng.shuffle(place)
    items = [
        f"<ele>{rng.randint(-5, 900) / 10}</ele>",
        f"<time>2026-0{rng.randint(1, 9)}-{rng.randint(1, 31):02d}T06:00:{second:02d}{zone}</time>",
    ]
    items += [extension % tuple(rng.randint(0, 300) for _ in range(extension.count("%d")))] if extension else []
    if rng.random() < odd:
        items[rng.randrange(len(items))] = rng.choice(_ODD)
    if rng.random() < odd:
        return f"<trkpt {' '.join(place)}/>"
    return f"<trkpt {' '.join(place)}>{space}{space.join(items)}{space}</trkpt>"


def mutated(rng: Random, text: str) -> str:
    """The text with a few characters or pieces changed, cut out or put in twice, or the end cut off."""
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(text)) if text else 0
        kind = rng.random()
        if kind < 0.5:
            markup = text[at : at + 1] in "<>/\"'=&"
            text = text if markup else text[:at] + rng.choice("0123456789.-+:TZe ") + text[at + 1 :]
        elif kind < 0.7:
            text = text[:at] + rng.choice("<>/\"'&= x0-.]!?\0\u00e9\n") + text[at + 1 :]
        elif kind < 0.8:
            text = text[:at] + text[at + rng.randint(1, 9) :]
        elif kind < 0.87:
            text = text[:at] + text[at : at + rng.randint(1, 40)] + text[at:]
        elif kind < 0.97:
            text = text[:at] + rng.choice(_ODD) + text[at:]
        else:
            text = text[:at]
    return text


Comparable = tuple[str | None, list[tuple[str | None, str | None, list[dict[str, list[str]]]]]]


def by_gpxpy(text: str, channels: Mapping[str, str] = CHANNELS) -> Comparable | None:
    """Reference: gpxpy 1.6 GPXParser(text).parse() for places, times and names; ElementTree on the XML it parsed for
    every element of a point by its local name. None where gpxpy refuses the file."""
    parser = GPXParser(text)
    try:
        gpx = parser.parse()
    except GPXException:
        return None
    elements = iter(ElementTree.fromstring(parser.xml).iterfind("trk/trkseg/trkpt"))
    tracks = []
    for track in gpx.tracks:
        segments = [[_row(point, next(elements), channels) for point in segment.points] for segment in track.segments]
        tracks.append((track.type, track.name, [_columns(rows) for rows in segments]))
    return gpx.creator, tracks


def _row(point: Any, element: ElementTree.Element, channels: Mapping[str, str]) -> dict[str, float]:
    row = {
        "time_s": _seconds(point.time),
        "lat_deg": point.latitude,
        "lon_deg": point.longitude,
        "altitude_m": np.nan if point.elevation is None else point.elevation,
    }
    for item in element.iter():
        channel = channels.get(item.tag.rpartition("}")[2].lower())
        if channel:
            row[channel] = _finite(item.text)
    return row


def _seconds(time: Any) -> float:
    if time is None:
        return np.nan
    try:
        return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return np.nan


def _finite(text: str | None) -> float:
    try:
        value = float(text or "nan")
    except ValueError:
        return np.nan
    return value if np.isfinite(value) else np.nan


def _columns(rows: list[dict[str, float]]) -> dict[str, list[str]]:
    names = sorted({name for row in rows for name in row})
    return {name: [float(row.get(name, np.nan)).hex() for row in rows] for name in names}


def comparable(columns: GpxColumns) -> Comparable:
    """The reader under test in the same form; numbers as hex, so that every bit counts."""
    tracks = []
    for track in columns.tracks:
        segments = [{n: [float(v).hex() for v in s[n]] for n in sorted(s)} for s in track.segments]
        tracks.append((track.kind, track.name, segments))
    return columns.creator, tracks
