"""Searches a finished page for what was to be removed: names, numbers of devices, positions, heart rates.

Nothing here knows how the page was made: it takes the page apart as text and as JSON, and compares.
"""

from __future__ import annotations

import base64
import html
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any
from urllib.parse import unquote

import numpy as np

from steadyband.audit.model import FloatArray
from steadyband.report.common.assets import plotly_packed, unpacker_script
from steadyband.report.common.packing import unpacked
from steadyband.report.common.pages import template_files
from steadyband.review.private import OWN_NOTE, Private, Track

SHORTEST_NAME = 3
SHORTEST_SERIAL = 5
NO_SERIAL = 2
"""Shorter texts and numbers stand in any page by chance: where they do, they are named, not taken for a leak.

Of one or two digits (`NO_SERIAL`) a number tells no device from another and is passed over."""
DECIMALS = 3
"""Numbers with at least this many decimals may be coordinates: 0.001 degrees are about 111 m (a minute of arc is 1,852 m)."""
NEAR_DEG = 0.5 * 10**-DECIMALS
RUN = 8
"""This many numbers in a row that all fit a track's latitudes, and as many its longitudes, are a track (design choice)."""
PULSE_RUN = 30
"""So many whole numbers that come in a heart-rate trace one after the other are that trace (design choice)."""
SCRIPT = re.compile(r"<script([^>]*)>(.*?)</script>", re.S)
NUMBER = re.compile(rf"-?\d{{1,3}}\.\d{{{DECIMALS},}}")
UNICODE = re.compile(r"\\u([0-9a-fA-F]{4})")
OWN = (".j2", ".js", ".css", ".py")
PULSE_TEXT = re.compile(r"heart rate(?:</?\w+>|[\s:])*\d", re.I)


@dataclass(frozen=True, slots=True)
class Searched:
    """What was found where it must not be, and what stands in the page but may be the report's own word or number."""

    found: tuple[str, ...]
    alike: tuple[str, ...]


def search(page: str, private: Private, removed: Iterable[str]) -> Searched:
    """Look through the whole page, figures' JSON and hover texts included, for everything that was to be removed.

    `removed` are words of `review.share.WHAT`. Device numbers and content digests are always searched for. Only the scripts
    that ship with the tool, compared character by character, are left out of the search.
    """
    cut = set(removed)
    rest = _without_own_scripts(page)
    text = _plain(rest)
    found = [*_serials(text, private.serials), *_digests(text, private.digests)]
    short = [item for item in sorted(private.serials) if NO_SERIAL < len(item) < SHORTEST_SERIAL]
    alike = [f"the device number {item} (short: any page may hold it)" for item in short if _has_word(text, item)]
    for word in sorted(cut & {"names", "notes"}):
        named, passed = _names(
            text, {kind: texts for kind, texts in private.names.items() if (kind == OWN_NOTE) == (word == "notes")}
        )
        found += named
        alike += passed
    if "positions" in cut:
        found += _positions(rest, private.tracks)
    if "heart-rate" in cut:
        found += _pulses(rest, private.pulses)
    return Searched(tuple(found), tuple(alike))


def _without_own_scripts(page: str) -> str:
    own = {item.read_text(encoding="utf-8") for item in template_files() if item.name.endswith(".js")}
    own |= {plotly_packed(), unpacker_script()}
    return SCRIPT.sub(lambda match: "" if match[2] in own else match[0], page)


def _plain(text: str) -> str:
    """The text and its readings: entities, JSON escapes and percent signs undone, case folded."""
    read = UNICODE.sub(lambda match: chr(int(match[1], 16)), html.unescape(text))
    return "\n".join((text, read, unquote(read))).casefold()


def _own_words() -> str:
    """Everything the tool itself may write on a page."""
    return "\n".join(item.read_text(encoding="utf-8") for item in _own_files(files("steadyband"))).casefold()


def _own_files(room: Traversable) -> Iterator[Traversable]:
    for item in room.iterdir():
        if item.is_dir():
            yield from _own_files(item)
        elif item.name.endswith(OWN):
            yield item


def _names(text: str, names: Mapping[str, frozenset[str]]) -> tuple[list[str], list[str]]:
    found, passed = [], []
    own = _own_words()
    for kind, known in names.items():
        for name in sorted({form for whole in known for form in _forms(kind, whole)}):
            folded = name.casefold()
            if not _has_word(text, folded):
                continue
            if len(folded) < SHORTEST_NAME or _has_word(own, folded):
                passed.append(f"the {kind} {name!r} (short, or a word that the report itself uses)")
            else:
                found.append(f"the {kind} {name!r}")
    return found, passed


def _forms(kind: str, whole: str) -> Iterator[str]:
    """A name, a file's name without its ending too, where that is more than a date."""
    yield whole
    stem = whole.split(".")[0]
    if kind == "file name" and stem != whole and re.search(r"[^\W\d_]{3}", stem):
        yield stem


def _has_word(text: str, folded: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(folded)}(?!\w)", text) is not None


def _serials(text: str, serials: Iterable[str]) -> list[str]:
    long = [serial for serial in sorted(serials) if len(serial) >= SHORTEST_SERIAL]
    return [f"the device number {serial}" for serial in long if _has_word(text, serial)]


def _digests(text: str, digests: Iterable[str]) -> list[str]:
    return [f"the beginning of a recording's SHA-256, {item[:8]}" for item in sorted(digests) if item[:8] in text]


def _positions(page: str, tracks: Sequence[Track]) -> list[str]:
    rows = [[float(number) for number in NUMBER.findall(page)], *_rows(page)]
    return [
        f"positions of a track that begins at {track.lat_deg[0]:.3f}, {track.lon_deg[0]:.3f}"
        for track in tracks
        if _holds_track(rows, track)
    ]


def _holds_track(rows: Sequence[Sequence[float]], track: Track) -> bool:
    numbers = [np.asarray(row, dtype=np.float64) for row in rows]
    fits = [(_fits(row, track.lat_deg), _fits(row, track.lon_deg)) for row in numbers]
    if any(_beside(row, lat, lon, track) for row, (lat, lon) in zip(numbers, fits, strict=True)):
        return True
    return any(_run(lat) for lat, _ in fits) and any(_run(lon) for _, lon in fits)


def _fits(numbers: FloatArray, values: FloatArray) -> Any:
    """True for each number [n] that lies within half a thousandth of a degree of one of the values."""
    known = np.sort(values)
    at = np.clip(np.searchsorted(known, numbers), 1, max(len(known) - 1, 1))
    near = np.minimum(np.abs(numbers - known[at - 1]), np.abs(numbers - known[np.minimum(at, len(known) - 1)]))
    return near <= NEAR_DEG


def _beside(row: FloatArray, lat: Any, lon: Any, track: Track) -> bool:
    """True where latitude and longitude of one position stand side by side, in either order."""
    pairs = [(row[at], row[at + 1]) for at in np.flatnonzero(lat[:-1] & lon[1:])]
    pairs += [(row[at + 1], row[at]) for at in np.flatnonzero(lon[:-1] & lat[1:])]
    return any(
        bool(((np.abs(track.lat_deg - a) <= NEAR_DEG) & (np.abs(track.lon_deg - b) <= NEAR_DEG)).any())
        for a, b in pairs
    )


def _run(fits: Any) -> bool:
    if len(fits) < RUN:
        return False
    return bool((np.convolve(fits.astype(int), np.ones(RUN, int), "valid") == RUN).any())


def _pulses(page: str, pulses: Sequence[FloatArray]) -> list[str]:
    rows = [row for row in _rows(page) if len(row) >= PULSE_RUN]
    traces = [pulse for pulse in pulses if len(pulse) >= PULSE_RUN]
    found = [
        f"a heart-rate trace of {len(pulse)} values" for pulse in traces if any(_comes_in(row, pulse) for row in rows)
    ]
    hovers = [match[0] for script in _json_texts(page) for match in PULSE_TEXT.finditer(script)]
    return [*found, *([f"heart rates in {len(hovers)} hover texts"] if hovers else [])]


def _comes_in(row: Sequence[float], pulse: FloatArray) -> bool:
    """True where the numbers of a row come in the trace one after the other, and are more than one level."""
    wanted = [round(value) for value in row]
    if any(abs(value - whole) > 1e-9 for value, whole in zip(row, wanted, strict=True)) or len(set(wanted)) < 3:
        return False
    trace = iter(np.rint(pulse).astype(int).tolist())
    return all(value in trace for value in wanted)


def _json_texts(page: str) -> list[str]:
    return [match[2] for match in SCRIPT.finditer(page) if "json" in match[1]]


def _rows(page: str) -> list[list[float]]:
    """Every list of numbers in the JSON of the page, those written short or packed too; gaps in them left out."""
    return [row for text in _json_texts(page) for row in _lists(_loaded(text))]


def _loaded(text: str) -> Any:
    try:
        return json.loads(text)
    except ValueError:
        return None


def _lists(value: Any) -> Iterator[list[float]]:
    if isinstance(value, Mapping):
        if isinstance(value.get("bdata"), str):
            yield np.frombuffer(base64.b64decode(value["bdata"]), np.dtype(str(value["dtype"]))).astype(float).tolist()
        if {"first", "by", "steps"} <= value.keys():
            yield [float(number) for number in unpacked(value)]
        for part in value.values():
            yield from _lists(part)
    elif isinstance(value, list):
        numbers = [float(part) for part in value if isinstance(part, int | float) and not isinstance(part, bool)]
        if numbers:
            yield numbers
        for part in value:
            yield from _lists(part)
