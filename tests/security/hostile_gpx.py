"""GPX files that attack the XML parser, the decoder, the numbers or the page."""

from __future__ import annotations

from hostile_base import Hostile, recording

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
OPEN = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'


def point(second: int = 0, lat: str = "38.7", lon: str = "-9.1", time: str = "", inner: str = "") -> str:
    stamp = time or f"2026-05-11T08:{second // 60:02d}:{second % 60:02d}Z"
    return f'<trkpt lat="{lat}" lon="{lon}">{inner}<time>{stamp}</time></trkpt>'


def gpx(inside: str, before: str = HEAD, opened: str = OPEN) -> str:
    return f"{before}{opened}<trk><trkseg>{inside}</trkseg></trk></gpx>"


POINTS = "".join(point(i, lat=f"38.7{i:04d}") for i in range(200))


def case(name: str, text: str | bytes, said: str, status: int = 1) -> Hostile:
    return recording(f"gpx-{name}", text.encode() if isinstance(text, str) else text, said, status, "bad.gpx")


_LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10 if i else "lol"}">' for i in range(10))
_REFUSED = r"bad\.gpx: the file declares a document type or entities, which a GPX recording never needs"
_DEEP = 200_000

GPXS = (
    case("billion-laughs", gpx(f"{POINTS}&l9;", f"{HEAD}<!DOCTYPE gpx [{_LAUGHS}]>"), _REFUSED),
    case("quadratic-blowup", gpx("&a;" * 50_000, f'{HEAD}<!DOCTYPE gpx [<!ENTITY a "{"x" * 50_000}">]>'), _REFUSED),
    case("external-entity", gpx(f"{POINTS}&x;", f'{HEAD}<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>'), _REFUSED),
    case("external-address", gpx("&x;", f'{HEAD}<!DOCTYPE gpx [<!ENTITY x SYSTEM "http://127.0.0.1:9/x">]>'), _REFUSED),
    case("external-dtd", gpx(POINTS, f'{HEAD}<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd">'), _REFUSED),
    case("parameter-entity", gpx(POINTS, f'{HEAD}<!DOCTYPE gpx [<!ENTITY % p SYSTEM "file:///etc/hostname"> %p;]>'), _REFUSED),
    case("dtd-in-utf16", gpx(POINTS, '<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE gpx [<!ENTITY a "b">]>').encode("utf-16"), _REFUSED),
    case("dtd-in-utf7", HEAD.replace("UTF-8", "UTF-7").encode() + gpx(POINTS, "+ADwAIQ-DOCTYPE gpx []+AD4-").encode(), r"bad\.gpx: (the XML is broken|expected a FIT or GPX)"),
    case("xinclude", gpx('<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file:///etc/passwd"/>' + POINTS), r'"file": "bad\.gpx"', 0),
    case("undefined-entity", gpx(f"{POINTS}&nope;"), r"undefined entity", 0),
    case("nested-without-end", gpx(POINTS + "<a>" * _DEEP + "</a>" * _DEEP), r"bad\.gpx: expected elements at most 100 deep"),
    case("nested-unclosed", gpx("<a>" * _DEEP), r"bad\.gpx: expected elements at most 100 deep"),
    case("nested-in-a-point", gpx(point(inner="<extensions>" + "<a>" * 5_000 + "</a>" * 5_000 + "</extensions>")), r"at most 100 deep"),
    case("huge-attribute", gpx(POINTS + f'<a b="{"x" * 5_000_000}"/>'), r'"file": "bad\.gpx"', 0),
    case("many-attributes", gpx(POINTS + "<a " + " ".join(f'b{i}="1"' for i in range(50_000)) + "/>"), r'"file": "bad\.gpx"', 0),
    case("attribute-twice", gpx(POINTS + '<a b="1" b="2"/>'), r"duplicate attribute", 0),
    case("too-much-markup", gpx(POINTS + "<a/>" * 3_100_000), r"bad\.gpx: expected at most 3,000,000 tags and attributes without a common pattern in one recording, found 3,1"),
    case("huge-text", gpx(POINTS + f"<x>{'y' * 5_000_000}</x>"), r'"file": "bad\.gpx"', 0),
    case("endless-comment", gpx(POINTS + "<!-- " + "- " * 1_000_000), r"the XML is broken", 0),
    case("comments-before", "<!--x-->" * 200_000 + gpx(POINTS, ""), r"bad\.gpx: expected a FIT or GPX recording"),
    case("spaces-before", " " * 5_000_000 + gpx(POINTS, ""), r"bad\.gpx: expected a FIT or GPX recording"),
    case("spaces-in-a-tag", gpx(POINTS.replace("</trkpt>", "</trkpt" + " " * 20_000 + ">", 30)), r'"file": "bad\.gpx"', 0),
    case("quotes-bait", gpx(" xmlns='" * 200_000), r"bad\.gpx: .*(broken|no timed track)"),
    case("unclosed-quotes", f'<gpx version="1.1"><trk><trkseg><trkpt lat="{"1" * 3_000_000}', r"bad\.gpx: the XML is broken"),
    case("unknown-encoding", gpx(POINTS, HEAD.replace("UTF-8", "x-no-such")).encode(), r"names an unknown encoding, x-no-such", 0),
    case("punycode", gpx(POINTS, HEAD.replace("UTF-8", "punycode")).encode(), r"names an unknown encoding, punycode", 0),
    case("undefined-codec", gpx(POINTS, HEAD.replace("UTF-8", "undefined")).encode(), r"names an unknown encoding, undefined", 0),
    case("utf16-without-mark", gpx(POINTS, "").encode("utf-16-le"), r'"file": "bad\.gpx"', 0),
    case("utf16-odd", gpx(POINTS, "").encode("utf-16-le")[:-1], r'"file": "bad\.gpx"', 0),
    case("utf16-lone-surrogate", gpx(POINTS.replace("</trkpt>", "<name>\ud800</name></trkpt>", 1), "").encode("utf-16-le", "surrogatepass"), r'"file": "bad\.gpx"', 0),
    case("utf8-bytes-of-another", gpx(POINTS).encode() + b"\xff\xfe\xfa", r"not UTF-8 text", 0),
    case("nul-bytes", gpx(POINTS.replace("<time>", "\0<time>", 1)), r"bad\.gpx: the XML is broken"),
    case("zero-bytes-only", bytes(1_000_000), r"nothing but zero bytes"),
    case("times-far-off", gpx(point(time="9999-12-31T23:59:59Z") + point(time="0001-01-01T00:00:00Z")), r"bad\.gpx: holds no timed track"),
    case("years-apart", gpx(point(time="1990-01-01T00:00:00Z") + point(time="2026-05-11T08:00:00Z") * 3), r'"file": "bad\.gpx"', 0),
    case("many-days", gpx("".join(point(time=f"2026-{1 + i // 28:02d}-{1 + i % 28:02d}T08:00:00Z") for i in range(300))), r"days over all sessions in one recording", 1),
    case("many-tracks", f"{HEAD}{OPEN}" + "".join(f"<trk><trkseg>{point(time=f'20{20 + i // 336:02d}-{1 + i // 28 % 12:02d}-{1 + i % 28:02d}T08:00:00Z')}</trkseg></trk>" for i in range(400)) + "</gpx>", r"bad\.gpx: expected at most 200 sessions in one recording, found 400"),
    case("long-sessions", f"{HEAD}{OPEN}" + "".join(f"<trk><trkseg>{point(time=f'20{10 + i:02d}-03-01T08:00:00Z')}{point(time=f'20{10 + i:02d}-03-02T07:59:59Z')}</trkseg></trk>" for i in range(30)) + "</gpx>", r"bad\.gpx: expected at most 14 days over all sessions in one recording, found 30"),
    case("positions-off-earth", gpx("".join(point(i, lat="9e99", lon="-1e308") for i in range(60))), r'"file": "bad\.gpx"', 0),
    case("numbers-nan", gpx("".join(point(i, lat="nan", lon="inf") for i in range(60))), r'"file": "bad\.gpx"', 0),
    case("power-nan-inf", gpx("".join(point(i, inner=f"<extensions><power>{value}</power></extensions>") for i, value in enumerate(["nan", "inf", "-inf", "1e400", "9" * 5_000, "-5", "0x10", "१२३"] * 10))), r'"file": "bad\.gpx"', 0),
    case("height-of-5000-digits", gpx("".join(point(i, inner=f"<ele>{'9' * 5_000}</ele>") for i in range(60))), r'"file": "bad\.gpx"', 0),
    case("satellites-of-5000-digits", gpx(point(inner=f"<sat>{'9' * 5_000}</sat>") + POINTS), r'"file": "bad\.gpx"', 0),
    case("a-web-page", "<!doctype html><html><body>log in</body></html>", r"found a web page"),
    case("another-xml", '<?xml version="1.0"?>\n<svg onload="alert(1)"/>', r"an XML file whose root is <svg>"),
)  # fmt: skip
