"""Track points of one markup, found by pattern: only their values differ, so the XML of one of them stands for all.

A point qualifies where it is nothing but elements, attributes and plain ASCII values, its tags closed in order. Its
markup, with the values left out, is its template. Points of known templates that follow one another make a stretch.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from steadyband.recording.limits import check_time
from steadyband.recording.not_covered import NotCovered

TEMPLATES_MAX = 64
"""Different markups of points in one file (design choice; exports have under ten)."""

POINT_SIZE_MAX = 8192
"""Longest point that is tried as a template [characters] (design choice; with extensions they take about 500)."""

_FAILURES_MAX = 500
_START = "<trkpt"
_HOLE = "\0"
_VALUE = r"[ !#-%(-;=?-\\^-~]+"
_SPACE = r"[ \t\r\n]*"
_ATTRIBUTE = r"""[ \t\r\n]+[A-Za-z_][\w.:-]*=(?:"[^"<>&]*"|'[^'<>&]*')"""
_TOKEN = re.compile(rf"<(/?)([A-Za-z_][\w.:-]*)((?:{_ATTRIBUTE})*){_SPACE}(/?)>|([^<>&]+)", re.ASCII)
_PLACE = re.compile(rf"""([ \t\r\n](?:lat|lon)=(["']))({_VALUE})(?=\2)""")


@dataclass(frozen=True, slots=True)
class Template:
    """A markup with holes: `pieces` of literal text around them, and the pattern of a whole point and space after it."""

    number: int
    pieces: tuple[str, ...]
    pattern: re.Pattern[str]

    def sample(self, tokens: str, stretch: int) -> str:
        """The markup with a token in each hole, see `token_of`."""
        holes = [f"{tokens}{stretch}.{self.number}.{hole}" for hole in range(len(self.pieces) - 1)]
        return "".join(part for pair in zip(self.pieces, [*holes, ""], strict=True) for part in pair)


@dataclass(slots=True)
class Stretch:
    """Points that follow one another: per template in order of first use, their values and places in the stretch."""

    number: int
    end: int
    values: dict[int, list[tuple[str, ...]]] = field(default_factory=dict)
    runs: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    count: int = 0

    def add(self, template: int, rows: list[tuple[str, ...]]) -> None:
        """Append points of one template."""
        self.values.setdefault(template, []).extend(rows)
        self.runs.setdefault(template, []).append((self.count, self.count + len(rows)))
        self.count += len(rows)


class Scanner:
    """Finds the stretches of a text; what is left of it has one sample of each template in place of each stretch."""

    def __init__(self, text: str) -> None:
        self.stretches: list[Stretch] = []
        self.templates: list[Template] = []
        self.tokens = _unused(text)
        self._text = text
        self._known: set[tuple[str, ...]] = set()
        self._failures = 0
        self.rest = "".join(self._pieces())

    def _pieces(self) -> Iterator[str]:
        kept = 0
        start = self._text.find(_START)
        while start >= 0:
            stretch = self._stretch(start)
            if stretch is not None:
                yield self._text[kept:start]
                yield from (self.templates[number].sample(self.tokens, stretch.number) for number in stretch.values)
                kept = stretch.end
            start = self._text.find(_START, stretch.end if stretch is not None else start + 1)
        yield self._text[kept:]

    def _stretch(self, start: int) -> Stretch | None:
        """The stretch that begins here, if any."""
        check_time()
        stretch = Stretch(len(self.stretches), start)
        while True:
            template = self._template_at(stretch.end)
            if template is None:
                break
            rows, stretch.end = _following(template, self._text, stretch.end)
            stretch.add(template.number, rows)
        if not stretch.count:
            return None
        self.stretches.append(stretch)
        return stretch

    def _template_at(self, at: int) -> Template | None:
        if not self._text.startswith(_START, at):
            return None
        known = next((t for t in self.templates if t.pattern.match(self._text, at)), None)
        return known or self._learned(at)

    def _learned(self, at: int) -> Template | None:
        pieces = _holes(self._text, at) if len(self.templates) < TEMPLATES_MAX else None
        if pieces is None or pieces in self._known:
            self._failures += 1
            if self._failures > _FAILURES_MAX:
                raise NotCovered("points of too many kinds")
            return None
        self._known.add(pieces)
        pattern = re.compile(f"({_VALUE})".join(re.escape(piece) for piece in pieces) + _SPACE)
        self.templates.append(Template(len(self.templates), pieces, pattern))
        return self.templates[-1]


def _following(template: Template, text: str, at: int) -> tuple[list[tuple[str, ...]], int]:
    """(the values of the points of a template that stand here one after the other, the end of them)."""
    rows = []
    for match in template.pattern.finditer(text, at):
        if match.start() != at:
            break
        at = match.end()
        rows.append(match.groups())
    return rows, at


def _unused(text: str) -> str:
    """Characters that stand nowhere in the text."""
    found = next((mark for mark in ("hole-", "hollow-", "gap-in-a-point-") if mark not in text), None)
    if found is None:
        raise NotCovered("all words that could stand for values")
    return found


def _holes(text: str, at: int) -> tuple[str, ...] | None:
    """The markup of the point that begins here, cut where its values stand; None where it does not qualify."""
    tags: list[str] = []
    markup = ""
    limit = min(len(text), at + POINT_SIZE_MAX)
    while tags or not markup:
        token = _TOKEN.match(text, at, limit)
        part = _hollowed(token, tags, first=not markup) if token else None
        if token is None or part is None:
            return None
        markup += part
        at = token.end()
    return tuple(markup.split(_HOLE))


def _hollowed(token: re.Match[str], tags: list[str], first: bool) -> str | None:
    """One tag or text with holes for its values; None where it does not qualify. `tags` are the open elements."""
    closing, name, _, empty, value = token.groups()
    if _HOLE in token[0] or (first and (name != _START[1:] or closing)):
        return None
    if value is not None:
        return _hollow_text(value)
    if closing:
        return token[0] if tags and tags.pop() == name else None
    if not empty:
        tags.append(name)
    if not first:
        return token[0]
    place, found = _PLACE.subn(rf"\g<1>{_HOLE}", token[0])
    return place if found == 2 else None


def _hollow_text(text: str) -> str | None:
    value = text.strip(" \t\r\n")
    if not value:
        return text
    return text.replace(value, _HOLE, 1) if re.fullmatch(_VALUE, value) else None
