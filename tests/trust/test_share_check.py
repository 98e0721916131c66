"""The search before a copy is written: every leak planted by hand is found, and an innocent page is not accused."""

from __future__ import annotations

import base64
import json

import numpy as np
import pytest

from steadyband.ground.errors import SteadybandError
from steadyband.recording.identities import identities
from steadyband.report.share import copy as share_module
from steadyband.report.share.search import search
from steadyband.review.private import Private, Track

# By hand: point 100 is 46.5 + 0.01 = 46.510 and 7.25 + 0.02 sin 2.5 = 7.262; point 95 is 46.5095 and 7.25 + 0.02 sin 2.375 = 7.26388.
LAT = 46.5 + np.arange(400) * 1e-4
LON = 7.25 + np.sin(np.arange(400) / 40) * 0.02
PULSE = 120 + np.round(15 * np.sin(np.arange(600) / 30))
PRIVATE = Private(
    names={
        "athlete's name": frozenset({"Ådne Østrøm & Søn"}),
        "file name": frozenset({"ride <b>.fit", "2026-05-12.fit"}),
        "name of a recording": frozenset({"Ride", "Quince loop"}),
        "name of a device": frozenset({"Plonk 9"}),
        "name of a meter or analyser": frozenset(),
        "note": frozenset({"knee hurts on stairs"}),
        "path of a folder": frozenset({"/home/adne/training"}),
    },
    devices=(frozenset({"Plonk 9"}),),
    serials=frozenset({"7", "4321", "3912345678"}),
    digests=frozenset({"9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"}),
    tracks=(Track(LAT, LON),),
    pulses=(PULSE,),
)
ALL = ("positions", "names", "heart-rate")


def page(body: str = "", data: object = None) -> str:
    script = f'<script type="application/json" data-plot="x">{json.dumps(data)}</script>' if data is not None else ""
    return f"<!doctype html><title>Week</title><p>Ride of 12 May: mean load 185 W, 2026-05-12.</p>{body}{script}"


def packed(values: np.ndarray) -> dict[str, str]:
    return {"dtype": values.dtype.str, "bdata": base64.b64encode(values.tobytes()).decode()}


LEAKS = {
    "name": page("<p>by Ådne Østrøm &amp; Søn</p>"),
    "name in capitals": page("<p>ÅDNE ØSTRØM &amp; SØN</p>"),
    "name in JSON escapes": page(data={"text": "Ådne Østrøm & Søn"}),
    "name in a link": page('<a href="%C3%85dne%20%C3%98str%C3%B8m%20%26%20S%C3%B8n.html">x</a>'),
    "file name in an attribute": page('<i title="ride &lt;b&gt;.fit"></i>'),
    "recording in a hover text": page(data={"data": [{"hovertext": ["10:00, Quince loop"]}]}),
    "device": page("<p>Power of Plonk 9</p>"),
    "path": page("<p>/home/adne/training/tests/x.toml</p>"),
    "note": page("<!-- knee hurts on stairs -->"),
    "device number": page(data={"id": 3912345678}),
    "digest": page('<i id="s9f86d081">x</i>'),
    "position in text": page("<p>at 46.510, 7.262</p>"),
    "position, longitude first": page("<p>[7.26388, 46.50950]</p>"),
    "rounded track": page(data={"x": np.round(LON, 3).tolist(), "y": np.round(LAT, 3).tolist()}),
    "packed track": page(data={"x": packed(LON), "y": packed(LAT.astype("f4"))}),
    "pairs": page(data=[[float(a), float(b)] for a, b in zip(LAT, LON, strict=True)]),
    "pulse": page(data={"y": PULSE.tolist()}),
    "thinned pulse": page(data={"y": PULSE[::7].tolist()}),
    "packed pulse": page(data={"y": packed(PULSE.astype("u1"))}),
    "pulse in steps": page(data={"x": {"first": int(PULSE[0]), "by": 1, "steps": np.diff(PULSE).astype(int).tolist()}}),
    "pulse with gaps": page(data={"y": [None, *PULSE[:80].tolist(), None, *PULSE[90:].tolist()]}),
    "hover pulse": page(data={"hovertext": ["steady, 5 min\nheart rate 128 bpm"]}),
}


@pytest.mark.parametrize("leak", LEAKS.values(), ids=LEAKS)
def test_every_planted_leak_is_found(leak: str) -> None:
    assert search(leak, PRIVATE, ALL).found


def test_an_innocent_page_is_not_accused() -> None:
    rng = np.random.default_rng(3)
    loads = (185 + 20 * rng.standard_normal(500)).round().tolist()
    speeds = (3.2 + 0.2 * rng.standard_normal(500)).round(3).tolist()
    found = search(
        page("<p>ceiling 212.4 W, 46.512 %</p>", {"x": list(range(500)), "y": loads, "z": speeds}), PRIVATE, ALL
    )
    assert found.found == ()


def test_own_words_and_short_numbers_are_named_not_taken_for_leaks() -> None:
    """ "Ride" is a word of every report, 4321 may be any number; 7 tells no device from another."""
    found = search(page("<p>4,321 records or 4321</p>"), PRIVATE, ALL)
    assert found.found == ()
    assert any("'Ride'" in text for text in found.alike)
    assert any("4321" in text for text in found.alike)
    assert not any("number 7 " in text for text in found.alike)


def test_what_is_kept_is_not_searched_for_but_numbers_of_devices_always_are() -> None:
    assert search(LEAKS["name"], PRIVATE, ("positions",)).found == ()
    assert search(LEAKS["rounded track"], PRIVATE, ("names",)).found == ()
    assert search(LEAKS["device number"], PRIVATE, ()).found


@pytest.mark.parametrize(
    "data", [b"", b"\x0e\x10\x00\x00\x00\x00\x00\x00.FIT", b"\x0e" + bytes(7) + b".FIT" + bytes(500), b"<gpx" * 99]
)
def test_identities_of_broken_bytes_are_none(data: bytes) -> None:
    assert identities(data).serials == frozenset()


def test_a_copy_with_a_leak_is_never_written(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The redaction is broken on purpose: the search stops the copy, and no file is made."""
    from planted import FIRST, planted_folder
    from typer.testing import CliRunner

    from steadyband.cli.main import app

    home = planted_folder(tmp_path / "home")
    monkeypatch.setattr(share_module, "shared_folder", lambda home, cut: home)
    done = CliRunner().invoke(app, ["share", "2026-W20", str(home)])
    assert isinstance(done.exception, SteadybandError)
    assert FIRST.athlete in str(done.exception)
    assert "Nothing was written" in str(done.exception)
    assert not (home / "reports" / "shared").exists()
