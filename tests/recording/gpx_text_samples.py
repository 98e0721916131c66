"""Small GPX texts for the tests."""

from __future__ import annotations

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="test" '
    'xmlns="http://www.topografix.com/GPX/1/1" xmlns:a="urn:a" xmlns:b="urn:b">'
)


def point(second: int, lat: float = 45.0, lon: float = 7.0, more: str = "") -> str:
    time = f"<time>2026-05-02T06:{second // 60:02d}:{second % 60:02d}Z</time>"
    return f'<trkpt lat="{lat}" lon="{lon}"><ele>300</ele>{time}{more}</trkpt>'


def track(*segments: str, kind: str = "cycling") -> str:
    return f"<trk><type>{kind}</type>" + "".join(f"<trkseg>{s}</trkseg>" for s in segments) + "</trk>"


def gpx(*tracks: str, head: str = HEAD) -> bytes:
    return (head + "".join(tracks) + "</gpx>").encode()


def ride(seconds: int = 30) -> bytes:
    """One point a second, 0.0001 degrees of latitude apart, with heart rate 130 and 200 W."""
    more = (
        "<extensions><a:power>200</a:power><b:TrackPointExtension><b:hr>130</b:hr></b:TrackPointExtension></extensions>"
    )
    return gpx(track("".join(point(i, 45 + i * 1e-4, more=more) for i in range(seconds))))
