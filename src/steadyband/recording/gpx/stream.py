"""GPX tracks straight into columns: the fast way to what gpxpy gives.

Stretches of points of one markup are taken out of the text by pattern (`gpx_points`); what is left, with one sample of
each markup in place, is small and is parsed as XML. The samples then tell which value of their stretch is which. The
removed points differ from their sample in plain values only, so they are well-formed where it is, and mean the same.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from steadyband.recording.gpx.digits import floats
from steadyband.recording.gpx.points import Scanner, Stretch
from steadyband.recording.gpx.times import one_time, unix_times
from steadyband.recording.limits import MARKUP_MAX, check_time
from steadyband.recording.model import FloatArray
from steadyband.recording.not_covered import NotCovered

Columns = dict[str, FloatArray]

DEPTH_MAX = 100
"""Deepest nesting of elements (design choice; a track point's extensions take about six)."""

_REST_MAX = 0.5
_SMALL = 200_000
"""Where more than half of a text of more than these characters is left over, the other way is as fast."""

_DEFAULT_NAMESPACE = re.compile(r"""\sxmlns=(['"])[^'"]+\1""")
_FLOATS = ("ele", "course", "speed", "magvar", "geoidheight", "hdop", "vdop", "pdop", "ageofdgpsdata")
_WHOLE = ("sat", "dgpsid")
_FIXES = frozenset({"none", "2d", "3d", "dgps", "pps", "3"})
_EDGES = ("minlat", "maxlat", "minlon", "maxlon")


@dataclass(slots=True)
class GpxTrack:
    """One track: `kind` and `name` as written, and per segment its points as columns, in file order.

    Columns are time_s [Unix s], lat_deg, lon_deg, altitude_m, and a channel for each extension element asked for; NaN
    where a point has none.
    """

    kind: str | None
    name: str | None
    segments: list[Columns] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class GpxColumns:
    """All tracks of a GPX file and the creator it names."""

    creator: str | None
    tracks: tuple[GpxTrack, ...]


def read_tracks(text: str, channels: Mapping[str, str]) -> GpxColumns:
    """The tracks of a GPX text, as gpxpy and ElementTree give them.

    `channels` names the channel of each point element by its local name in lower case. Raises NotCovered for a text
    that is not well-formed, declares a document type, nests too deep, has values gpxpy would refuse, or has too little
    regularity to gain from; read it through gpxpy then.
    """
    scanner = Scanner(_without_default_namespace(text))
    if len(text) > _SMALL and len(scanner.rest) > _REST_MAX * len(text):
        raise NotCovered("points of irregular markup")
    if scanner.rest.count("<") + scanner.rest.count("=") > MARKUP_MAX:
        raise NotCovered("so much markup without a common pattern")
    root = _parsed(scanner.rest)
    reader = _Reader(scanner, channels)
    try:
        tracks = tuple(reader.track(track, root.get("version")) for track in root.findall("trk"))
        _check_others(root)
    except ValueError as exc:
        raise NotCovered("values that are no numbers") from exc
    if reader.read != len(scanner.stretches):
        raise NotCovered("track points outside of tracks")
    return GpxColumns(root.get("creator"), tracks)


def _without_default_namespace(text: str) -> str:
    """The text without its first default namespace, which gpxpy takes out as well; only a plain one may go unread."""
    found = _DEFAULT_NAMESPACE.search(text)
    if found is None:
        return text
    if not re.fullmatch(r"[!-%'-;=?-~]+", found[0].strip()):
        raise NotCovered("an unusual namespace")
    return text[: found.start()] + text[found.end() :]


class _Bounded(ElementTree.TreeBuilder):
    """Builds a tree of bounded depth: endless nesting would end the process when the tree is taken down."""

    depth = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> ElementTree.Element:
        self.depth += 1
        if self.depth > DEPTH_MAX:
            raise NotCovered(f"elements more than {DEPTH_MAX} deep in each other")
        return super().start(tag, attrs)

    def end(self, tag: str, /) -> ElementTree.Element:
        self.depth -= 1
        return super().end(tag)


def _parsed(text: str) -> ElementTree.Element:
    if "<!DOCTYPE" in text:
        raise NotCovered("a document type")
    parser = ElementTree.XMLParser(target=_Bounded())
    try:
        parser.feed(text)
        root: ElementTree.Element = parser.close()
    except (ElementTree.ParseError, ValueError) as exc:
        raise NotCovered("XML that is not well-formed") from exc
    return root


class _Values:
    """What the texts of a sample stand for: the values of all its points, or the same text for each."""

    def __init__(self, tokens: str, rows: Sequence[tuple[str, ...]]) -> None:
        self.count = len(rows)
        self._token = re.compile(re.escape(tokens) + r"\d+\.\d+\.(\d+)")
        self._columns = list(zip(*rows, strict=True))
        self._numbers: dict[int, FloatArray] = {}

    def of(self, text: str) -> Sequence[str]:
        """The values that stand in a text, or the one text where it is the same for all points."""
        token = self._token.search(text)
        return self._columns[int(token[1])] if token else (text,)

    def floats(self, text: str | None) -> FloatArray:
        """The numbers [count] of a text, NaN where there is none. Raises ValueError where it is no number."""
        if text is None:
            return np.full(self.count, np.nan)
        token = self._token.search(text)
        if token is None:
            return np.full(self.count, float(text))
        hole = int(token[1])
        if hole not in self._numbers:
            self._numbers[hole] = floats(self._columns[hole])
        return self._numbers[hole]

    def finite(self, text: str | None) -> FloatArray:
        """The finite numbers [count] of a text, NaN for anything else."""
        try:
            values = self.floats(text)
        except ValueError:
            values = np.array([_float_or_nan(value) for value in self.of(text or "nan")])
        return np.where(np.isfinite(values), values, np.nan) if len(values) == self.count else values.repeat(self.count)

    def times(self, text: str | None) -> FloatArray:
        """The times [count] of a text, Unix seconds."""
        if text is None or not self._token.search(text):
            return np.full(self.count, one_time(text))
        if not self._token.fullmatch(text):
            raise NotCovered("times with space around them")
        return unix_times(self.of(text))


class _Reader:
    """Tracks of the parsed rest, with the stretches put back in; `read` counts those met."""

    def __init__(self, scanner: Scanner, channels: Mapping[str, str]) -> None:
        self.read = 0
        self._scanner = scanner
        self._channels = channels
        self._token = re.compile(re.escape(scanner.tokens) + r"(\d+)\.(\d+)\.\d+")

    def track(self, element: ElementTree.Element, version: str | None) -> GpxTrack:
        """One track with its segments; its type exists from GPX 1.1 on."""
        _check_number(element)
        kind = _text(element, "type") if version == "1.1" else None
        track = GpxTrack(kind, _text(element, "name"))
        track.segments = [self._segment(segment) for segment in element.findall("trkseg")]
        return track

    def _segment(self, element: ElementTree.Element) -> Columns:
        check_time()
        return _joined(list(self._parts(element.findall("trkpt"))))

    def _parts(self, points: Sequence[ElementTree.Element]) -> Iterator[Columns]:
        at = 0
        while at < len(points):
            token = self._token.search(points[at].get("lat", ""))
            if token is None:
                yield self._columns(points[at], _Values(self._scanner.tokens, [()]))
                at += 1
                continue
            stretch = self._scanner.stretches[int(token[1])]
            samples = points[at : at + len(stretch.values)]
            yield self._put_back(stretch, samples)
            at += len(samples)

    def _put_back(self, stretch: Stretch, samples: Sequence[ElementTree.Element]) -> Columns:
        """The columns of a stretch, from the samples of its templates."""
        expected = [(str(stretch.number), str(number)) for number in stretch.values]
        tokens = [self._token.search(sample.get("lat", "")) for sample in samples]
        if stretch.number != self.read or [token and token.groups() for token in tokens] != expected:
            raise NotCovered("track points outside of tracks")
        self.read += 1
        parts = [
            (stretch.runs[number], self._columns(sample, _Values(self._scanner.tokens, stretch.values[number])))
            for sample, number in zip(samples, stretch.values, strict=True)
        ]
        return parts[0][1] if len(parts) == 1 else _scattered(stretch.count, parts)

    def _columns(self, point: ElementTree.Element, values: _Values) -> Columns:
        _check_point(point, values)
        columns = {
            "time_s": values.times(_text(point, "time")),
            "lat_deg": values.floats(point.attrib["lat"]),
            "lon_deg": values.floats(point.attrib["lon"]),
            "altitude_m": values.floats(_text(point, "ele")),
        }
        for item in point.iter():
            channel = self._channels.get(str(item.tag).rpartition("}")[2].lower())
            if channel:
                columns[channel] = values.finite(item.text)
        return columns


def _float_or_nan(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _text(element: ElementTree.Element, tag: str) -> str | None:
    found = element.find(tag)
    return None if found is None else found.text


def _check_point(point: ElementTree.Element, values: _Values) -> None:
    """Raises ValueError for values of a point that gpxpy would refuse, NotCovered for a point without a place."""
    if "lat" not in point.attrib or "lon" not in point.attrib:
        raise NotCovered("points without a place")
    for text in (point.attrib["lat"], point.attrib["lon"], *(_text(point, tag) for tag in _FLOATS)):
        values.floats(text)
    for text in (_text(point, tag) for tag in _WHOLE):
        for value in values.of(text) if text is not None else ():
            int(value.strip())
    fix = _text(point, "fix")
    if fix is not None and not _FIXES.issuperset(values.of(fix)):
        raise ValueError(fix)


def _check_number(element: ElementTree.Element) -> None:
    number = _text(element, "number")
    if number is not None:
        int(number.strip())


def _check_others(root: ElementTree.Element) -> None:
    """Raises ValueError for values outside of tracks that gpxpy would refuse."""
    alone = _Values("", [()])
    for point in (*root.iterfind("wpt"), *root.iterfind("rte/rtept")):
        _check_point(point, alone)
    for route in root.iterfind("rte"):
        _check_number(route)
    for bounds in root.iter("bounds"):
        for edge in _EDGES:
            float(bounds.get(edge, "0"))


def _joined(parts: Sequence[Columns]) -> Columns:
    names = dict.fromkeys(name for part in parts for name in part)
    return {name: np.concatenate([_or_nan(part, name) for part in parts]) for name in names}


def _or_nan(part: Columns, name: str) -> FloatArray:
    return part[name] if name in part else np.full(len(part["time_s"]), np.nan)


def _scattered(count: int, parts: Sequence[tuple[Sequence[tuple[int, int]], Columns]]) -> Columns:
    """The points of several templates at their places in the stretch."""
    names = dict.fromkeys(name for _, part in parts for name in part)
    whole = {name: np.full(count, np.nan) for name in names}
    for runs, part in parts:
        places = np.concatenate([np.arange(start, stop) for start, stop in runs])
        for name, values in part.items():
            whole[name][places] = values
    return whole
