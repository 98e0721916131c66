"""An athlete folder whose every private value is marked, so that a page can be searched for it by other means than the tool's."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "recording"))

from fit_bytes import (
    ACTIVITY,
    CYCLING,
    ENUM,
    FILE_ID,
    SINT32,
    STRING,
    UINT16,
    UINT32,
    WORKOUT,
    fit_file,
    message,
    record,
    session,
)

FIT_EPOCH_UNIX = 631_065_600
START = datetime(2026, 5, 12, 6, 0, 0, tzinfo=UTC)
SECONDS = 2700
SEMICIRCLES = 2**31 / 180
PULSES = (201, 219)
"""Heart rates planted, bpm: no load, edge or other heart rate of the folder lies in this range."""


@dataclass(frozen=True)
class Marks:
    """The private values of one folder."""

    athlete: str = "Quirina Zyxwold"
    fit_file: str = "zyxwold-hill-loop.fit"
    gpx_file: str = "kestrelmoor-evening.gpx"
    broken_file: str = "ottoline-broken.fit"
    gone_file: str = "gone with ottoline.fit"
    test_file: str = "2026-04-20-ottolines-garage.toml"
    workout: str = "Lamplight on Kestrelmoor"
    track: str = "Around Wobbleton"
    device: str = "Veloquark 77"
    creator: str = "Grumblebox"
    serial: int = 3_912_345_678
    meter: str = "Crankwhisper"
    analyser: str = "Bloodnik"
    position: str = "on the hoods of the borrowed bike"
    test_note: str = "Ottoline held the watch"
    step_note: str = "cramp in Wobbleton"
    label_note: str = "argued with Ottoline"
    override: str = "because Ottoline said so"
    lat: float = 61.23456
    lon: float = 17.31234

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text that must not be told, and words out of them that no page has by itself."""
        whole = [value for value in vars(self).values() if isinstance(value, str)]
        stems = [name.split(".")[0] for name in (self.fit_file, self.gpx_file, self.broken_file, self.test_file)]
        return (*whole, *stems, str(self.serial))


FIRST = Marks()
WORDS = (
    "zyxwold", "quirina", "kestrelmoor", "ottoline", "wobbleton", "veloquark", "grumblebox", "crankwhisper", "bloodnik",
    "lamplight", "hoods of the",
)  # fmt: skip
"""Parts of the marks, each invented or found in no page by itself."""
SECOND = Marks(
    athlete="Some Other Person",
    fit_file="aaa.fit",
    gpx_file="bbb.gpx",
    broken_file="ccc.fit",
    gone_file="rrr.fit",
    test_file="2026-04-20-ddd.toml",
    workout="eee fff",
    track="ggg",
    device="Hhh 9",
    creator="iii",
    serial=1_234_509_876,
    meter="jjj",
    analyser="kkk",
    position="lll",
    test_note="mmm",
    step_note="nnn",
    label_note="ooo",
    override="ppp qqq",
    lat=-33.87654,
    lon=151.20987,
)
"""Other private values in the place of the same things."""


def power_of(seconds: int = SECONDS) -> list[int]:
    """About 185 W, with a surge to 260 W for 20 s every five minutes from the tenth on."""
    return [260 if second >= 600 and second % 300 < 20 else 185 + second % 7 for second in range(seconds)]


def pulse_of(seconds: int = SECONDS) -> list[int]:
    """A slow wave between the marks."""
    low, high = PULSES
    return [round((low + high) / 2 + (high - low) / 2 * np.sin(second / 90)) for second in range(seconds)]


def height_of(second: int) -> float:
    """A hill of 80 m in the second quarter of an hour, metres."""
    return 100 + 80 * float(np.clip((second - 900) / 900, 0, 1))


def place(marks: Marks, second: int) -> tuple[float, float]:
    """A line that bends: degrees. At 60 degrees north a hundred-thousandth of a degree of longitude is about half a metre."""
    return marks.lat + 4e-5 * second, marks.lon + 0.004 * float(np.sin(second / 500))


def fit_ride(marks: Marks, start: datetime = START) -> bytes:
    """A FIT ride with device number, device name, workout name, positions, heights, power and heart rate."""
    begin = int(start.timestamp()) - FIT_EPOCH_UNIX
    head = message(
        FILE_ID,
        (0, ENUM, ACTIVITY),
        (1, UINT16, 255),
        (3, UINT32, marks.serial),
        (4, UINT32, begin),
        (8, STRING, marks.device),
    )
    return fit_file(
        head,
        message(WORKOUT, (8, STRING, marks.workout)),
        *(_record(marks, begin, second) for second in range(SECONDS)),
        session(begin, SECONDS - 1, CYCLING),
    )


def _record(marks: Marks, begin: int, second: int) -> bytes:
    lat, lon = place(marks, second)
    return record(
        begin + second,
        POWER[second],
        PULSE[second],
        (0, SINT32, round(lat * SEMICIRCLES)),
        (1, SINT32, round(lon * SEMICIRCLES)),
        (2, UINT16, round((height_of(second) + 500) * 5)),
        (5, UINT32, 700 * second),
        (6, UINT16, 7000),
    )


POWER, PULSE = power_of(), pulse_of()


def gpx_ride(marks: Marks, start: datetime) -> bytes:
    """A GPX ride of the same kind, named, by a device that names itself."""
    points = "".join(_point(marks, start, second) for second in range(SECONDS))
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="{marks.creator}" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:e="urn:example:ext">'
        f"<metadata><author><name>{marks.athlete}</name></author></metadata>"
        f"<trk><name>{marks.track}</name><type>cycling</type><trkseg>{points}</trkseg></trk></gpx>"
    ).encode()


def _point(marks: Marks, start: datetime, second: int) -> str:
    lat, lon = place(marks, second)
    at = (start + timedelta(seconds=second)).strftime("%Y-%m-%dT%H:%M:%SZ")
    return (
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{height_of(second):.1f}</ele><time>{at}</time><extensions>'
        f"<e:TrackPointExtension><e:hr>{PULSE[second]}</e:hr><e:power>{POWER[second]}</e:power></e:TrackPointExtension>"
        "</extensions></trkpt>"
    )


def test_text(marks: Marks) -> str:
    """A step test with names and notes in every field that takes free text."""
    steps = "".join(
        f'[[step]]\nload = {load}\nhr_max = {pulse}\nnote = "{marks.step_note}"\nsamples = [{{minute = 10, lactate = {lactate}}}]\n'
        for load, pulse, lactate in (
            (120, 107, 1.1),
            (140, 113, 1.1),
            (160, 119, 1.2),
            (180, 125, 1.6),
            (200, 131, 1.8),
            (220, 137, 2.4),
        )
    )
    return (
        f'date = 2026-04-20\nsport = "cycling"\nload_unit = "W"\nstate = "fed"\nmass_kg = 71\nstep_minutes = 10\nbaseline = [1.1]\n'
        f'meter = "{marks.meter}"\nanalyser = "{marks.analyser}"\nposition = "{marks.position}"\nnote = "{marks.test_note}"\n'
        f'override = "{marks.override}"\nrecording = "../activities/{marks.gone_file}"\n{steps}'
    )


def planted_folder(home: Path, marks: Marks = FIRST) -> Path:
    """The athlete folder: two rides of one week, a broken file, a test, labels, an offset that names a device."""
    for part in ("tests", "activities"):
        (home / part).mkdir(parents=True)
    word = marks.device.split(" ")[0].lower()
    (home / "athlete.toml").write_text(
        f'name = "{marks.athlete}"\ntime_zone = "UTC"\n[[meter_offset]]\ndevice = "{word}"\ntest_meter = "{marks.meter}"\n'
        "intercept_w = 1.0\nslope = 1.0\n",
        encoding="utf-8",
    )
    (home / "tests" / marks.test_file).write_text(test_text(marks), encoding="utf-8")
    (home / "sessions.csv").write_text(
        f"date,time,intent,sport,note\n2026-05-12,,endurance,cycling,{marks.label_note}\n", encoding="utf-8"
    )
    rides = home / "activities"
    (rides / marks.fit_file).write_bytes(fit_ride(marks))
    (rides / marks.gpx_file).write_bytes(gpx_ride(marks, START + timedelta(days=2)))
    (rides / marks.broken_file).write_bytes(b"no recording: " + marks.athlete.encode())
    return home
