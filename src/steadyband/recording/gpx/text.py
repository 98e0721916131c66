"""GPX bytes to text that gpxpy can parse: encoding, refused declarations, damage, unreadable numbers."""

from __future__ import annotations

import codecs
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from dataclasses import dataclass
from xml.parsers import expat

from steadyband.ground.errors import DamagedRecordingError, RecordingError

_BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_TEXT_ENCODINGS = re.compile(
    r"(utf-8|utf-16|utf-32)(-le|-be|-sig)?|ascii|iso8859-\d+|cp\d+|koi8-[rtu]|mac-\w+|big5(hkscs)?|gb2312|gbk|gb18030"
    r"|(shift_jis|euc_jis|euc)\w*|iso2022_\w+"
)
"""Encodings, as Python calls them, in which files are written; each is read in one pass."""
_POINT_END = re.compile(r"</trkpt\s*>|<trkpt\b[^<>]*/>")
_CLOSING = "</trkseg></trk></gpx>"
_AROUND_TIME = re.compile(r"(<time>)[ \t\r\n]+|(?<=[0-9Z])[ \t\r\n]+(?=</time>)")

DEPTH_MAX = 100
"""Deepest nesting of elements (design choice; a track point's extensions take about six)."""


def _coordinate(limit: float) -> Callable[[str], bool]:
    return lambda text: abs(float(text)) <= limit


_NUMBERS: dict[str, Callable[[str], object]] = {
    **dict.fromkeys(
        ("ele", "course", "speed", "magvar", "geoidheight", "hdop", "vdop", "pdop", "ageofdgpsdata"), float
    ),
    **dict.fromkeys(("sat", "dgpsid", "number"), int),
    "fix": ("none", "2d", "3d", "dgps", "pps", "3").index,
}
"""Elements whose text gpxpy 1.6 insists on: it gives up the whole file for one that is not such."""


@dataclass(frozen=True, slots=True)
class Text:
    """Text to parse, one sentence on damage, and how many values were unreadable."""

    text: str
    damage: str | None = None
    unreadable: int = 0


def uncommented(data: bytes) -> bytes:
    """The bytes without XML comments; an unclosed one ends them."""
    before, *rest = data.split(b"<!--")
    return before + b"".join(piece.partition(b"-->")[2] for piece in rest)


def decoded(data: bytes, name: str) -> Text:
    """Text of the bytes by byte-order mark, else by the XML declaration, else UTF-8.

    Raises RecordingError where the file declares a document type or entities, which no recording needs.
    """
    encoding = next((e for mark, e in _BYTE_ORDER_MARKS if data.startswith(mark)), None) or _declared(data)
    damage = None
    try:
        text = data.decode(_of_texts(encoding))
    except LookupError:
        text, damage = data.decode("utf-8", errors="replace"), f"the file names an unknown encoding, {encoding[:40]}"
    except UnicodeDecodeError as exc:
        text = data.decode(encoding, errors="replace")
        damage = f"byte {exc.start} and perhaps others are not {encoding} text"
    text = text.removeprefix("\ufeff")
    if re.search(r"<!(DOCTYPE|ENTITY)\b", text, re.IGNORECASE):
        raise RecordingError(
            "the file declares a document type or entities, which a GPX recording never needs, so it is not opened.",
            file=name,
            hint="Export the session again.",
        )
    return Text(_trimmed(_unprefixed(re.sub(r"^\s*<\?xml[^>]*\?>", "", text))), damage)


def _trimmed(text: str) -> str:
    """Times without the space around them, which means nothing by the standard (XML Schema 1.0 part 2, dateTime: white
    space collapses) and which gpxpy takes for no time."""
    return _AROUND_TIME.sub(lambda found: found[1] or "", text) if _AROUND_TIME.search(text) else text


def _of_texts(encoding: str) -> str:
    """The encoding, if text is written in it. Raises LookupError for the others that Python knows (punycode, undefined)."""
    name = codecs.lookup(encoding).name
    if not _TEXT_ENCODINGS.fullmatch(name):
        raise LookupError(encoding)
    return name


def _declared(data: bytes) -> str:
    found = re.match(rb"""\s*<\?xml[^>]*?encoding\s*=\s*["']([\w.-]+)["']""", data[:200])
    if found:
        return found[1].decode("ascii", errors="replace")
    if data[:4].replace(b"\x00", b"")[:1] == b"<" and b"\x00" in data[:4]:
        return "utf-16-be" if data[0] == 0 else "utf-16-le"
    return "utf-8"


def _unprefixed(text: str) -> str:
    """GPX elements written with a namespace prefix, without it: gpxpy knows only plain names."""
    root = re.search(r"<([\w.-]+):gpx[\s>]", text[:65536])
    if not root:
        return text
    prefix = re.escape(root[1])
    return re.sub(rf"(</?){prefix}:", r"\1", text)


def sound(text: Text, name: str) -> Text:
    """The text up to the last whole track point before broken XML, open elements closed; unchanged where XML is sound.

    Raises DamagedRecordingError where no whole track point comes before the damage.
    """
    damage = _broken_at(text.text)
    if damage is None:
        return text
    at, reason = damage
    ends = [match.end() for match in _POINT_END.finditer(text.text[:at])]
    whole = text.text[: ends[-1]] + _CLOSING if ends else ""
    if not whole or _broken_at(whole):
        raise DamagedRecordingError(
            f"the XML is broken at character {at} ({reason}), before the first whole track point.",
            file=name,
            hint="Copy or export the file again.",
        )
    said = f"the XML is broken at character {at} ({reason}); the {len(ends)} track points before it were read"
    return Text(whole, "; ".join(part for part in (text.damage, said) if part), text.unreadable)


def _broken_at(text: str) -> tuple[int, str] | None:
    data = text.encode("utf-8", errors="replace")
    parser = expat.ParserCreate("utf-8", namespace_separator="}")
    depth = _Depth()
    parser.StartElementHandler, parser.EndElementHandler = depth.opened, depth.closed
    try:
        parser.Parse(data, True)
    except expat.ExpatError as exc:
        at = len(data[: parser.ErrorByteIndex].decode("utf-8", errors="ignore"))
        return at, expat.ErrorString(exc.code) or "not well-formed"
    return None


class _Depth:
    """Counts open elements: building a tree of them recurses, so endless nesting would end the process."""

    def __init__(self) -> None:
        self.depth = 0

    def opened(self, name: str, attributes: object) -> None:
        self.depth += 1
        if self.depth > DEPTH_MAX:
            raise RecordingError(
                f"expected elements at most {DEPTH_MAX} deep in each other, found more.",
                hint="Export the session again.",
            )

    def closed(self, name: str) -> None:
        self.depth -= 1


def mended(text: Text) -> Text:
    """The text without the values and points that gpxpy cannot read, counted; the XML must be sound."""
    root = ElementTree.fromstring(_plain(text.text))
    unreadable = sum(_mend(parent) for parent in list(root.iter()))
    return Text(ElementTree.tostring(root, encoding="unicode"), text.damage, text.unreadable + unreadable)


def _plain(text: str) -> str:
    """Without the default namespace, which gpxpy removes as well."""
    return re.sub(r"""\sxmlns=(['"])[^'"]+\1""", "", text, count=1)


def _mend(parent: ElementTree.Element) -> int:
    bad = [child for child in parent if not _readable(child)]
    for child in bad:
        parent.remove(child)
    return len(bad)


def _readable(element: ElementTree.Element) -> bool:
    try:
        if element.tag in ("wpt", "rtept", "trkpt"):
            return _coordinate(90)(element.get("lat", "")) and _coordinate(180)(element.get("lon", ""))
        check = _NUMBERS.get(element.tag)
        if check and element.text is not None:
            check(element.text.strip())
    except ValueError:
        return False
    return True
