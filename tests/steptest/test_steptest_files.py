"""Test files: what is read, and how every faulty one is refused (METHOD 1.1, last row)."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from steptest_data import LOADS, bike, run, step, toml

from steadyband.ground.errors import TestFileError, UsageError
from steadyband.steptest import load_test, load_tests
from steadyband.steptest.model import Sample

FLAT = [step(100 + 20 * i, 1.0) for i in range(4)]


def changed(number: int, text: str) -> list[str]:
    """Four good steps of which one is replaced."""
    return [*FLAT[: number - 1], text, *FLAT[number:]]


def test_everything_of_a_test_file_is_read(tmp_path: Path) -> None:
    steps = [step(load, 1.0, 1.1, hr=100 + i, more='note = "calm"\n') for i, load in enumerate(LOADS)]
    head = {"analyser": '"A"', "meter": '"B"', "position": '"hoods"', "note": '"n"', "recording": '"r.fit"'}
    test = bike(tmp_path, steps, baseline="[1.7, 1.2]", override='"race week"', **head)
    assert (test.file, test.date, test.sport, test.state) == (
        "2026-04-20-bike.toml",
        date(2026, 4, 20),
        "cycling",
        "fed",
    )
    assert (test.analyser, test.meter, test.position, test.note) == ("A", "B", "hoods", "n")
    assert (test.recording, test.override, test.mass_kg, test.baseline) == ("r.fit", "race week", 74.0, (1.7, 1.2))
    assert (test.steps[0].load, test.steps[0].hr_max_bpm, test.steps[0].note) == (120.0, 100.0, "calm")
    assert test.steps[0].samples == (Sample(5.0, 1.0), Sample(10.0, 1.1))


def test_dates_as_text_and_a_byte_order_mark_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + toml(date='"2026-04-20"').encode())
    assert load_test(path).date == date(2026, 4, 20)


def test_analyser_sd(tmp_path: Path) -> None:
    # By hand: a plain number is flat over all readings; 0.1 x 4 = 0.4; the default max(0.18, 0.06 x 5) = 0.30.
    assert bike(tmp_path, analyser_sd="0.25").analyser_sd.at(9.0) == pytest.approx(0.25)
    assert bike(tmp_path, analyser_sd="{floor = 0.2, fraction = 0.1}").analyser_sd.at(4.0) == pytest.approx(0.4)
    assert bike(tmp_path).analyser_sd.at(5.0) == pytest.approx(0.30)
    assert bike(tmp_path).analyser_sd.at(1.0) == pytest.approx(0.18)


def test_paces_speeds_and_inclines_become_metres_a_second(tmp_path: Path) -> None:
    # By hand: 6:00 a km is 1000 / 360 m/s; 12 km/h is 3.3333 m/s; 10 min a mile is 1609.344 / 600 m/s.
    pace = [('"6:00"', "run", 1.0), ('"5:30"', "run", 1.2), ("5.0", "run", 2.0)]
    slow_first = run(tmp_path, pace, '"min/km"')
    assert slow_first.steps[0].load_si == pytest.approx(1000 / 360)
    assert [item.load for item in slow_first.steps] == [6.0, 5.5, 5.0]
    mile = run(tmp_path, [(10, "run", 1.0), (9, "run", 1.0), (8, "run", 1.0)], '"min/mile"')
    assert mile.steps[0].load_si == pytest.approx(1609.344 / 600)
    speed = run(tmp_path, [(12, "run", 1.0), (13, "run", 1.0), (14, "run", 1.0)])
    assert speed.steps[0].load_si == pytest.approx(12 / 3.6)
    # By hand, Minetti's polynomials at 10 % (see test_steptest_slope): running 1.657837, walking 1.959654.
    steps = [step(4, 1.0, more='gait = "walk"\n'), step(8, 1.0), step(9, 1.0)]
    sloped = bike(tmp_path, steps, sport='"running"', load_unit='"km/h"', incline="10")
    assert sloped.steps[0].load_si == pytest.approx(4 / 3.6 * 1.959654, rel=1e-6)
    assert sloped.steps[1].load_si == pytest.approx(8 / 3.6 * 1.657837, rel=1e-6)


def test_samples_are_put_in_order_of_time_and_may_be_bare_numbers(tmp_path: Path) -> None:
    steps = changed(
        1, '[[step]]\nload = 100\nsamples = [{minute = 10, lactate = 1.3}, {minute = "6:30", lactate = 1.2}]\n'
    )
    assert bike(tmp_path, steps).steps[0].samples == (Sample(6.5, 1.2), Sample(10.0, 1.3))
    bare = bike(tmp_path, changed(1, "[[step]]\nload = 100\nsamples = [1.2]\n"))
    assert bare.steps[0].samples == (Sample(None, 1.2),)


# Each: what is wrong, the file, where it must point, what the message must hold.
FAULTS = [
    ("too few steps", toml(FLAT[:2]), "step", ["at least 3", "found 2"]),
    ("no steps", toml(["\n"]), "step", ["at least 3", "found nothing"]),
    ("unsorted", toml(changed(3, step(110, 1.0))), "step 3, load", ["rise", "110 W after 120 W"]),
    ("same load twice", toml(changed(3, step(120, 1.0))), "step 3, load", ["120 W after 120 W"]),
    ("negative load", toml(changed(1, step(-100, 1.0))), "step 1, load", ["above 0", "-100"]),
    ("negative lactate", toml(changed(2, step(120, -1.0))), "step 2, sample 1, lactate", ["0.3 to 30", "-1"]),
    ("negative heart rate", toml(changed(2, step(120, 1.0, hr=-90))), "step 2, hr_max", ["25 to 230", "-90"]),
    ("lactate too low", toml(changed(2, step(120, 0.2))), "step 2, sample 1, lactate", ["0.3 to 30", "0.2"]),
    ("lactate too high", toml(changed(4, step(160, 1.0, 31.0))), "step 4, sample 2, lactate", ["0.3 to 30", "31"]),
    ("baseline too high", toml(baseline="[1.1, 45]"), "baseline, sample 2", ["0.3 to 30", "45"]),
    ("unit of one step", toml(changed(2, step(120, 1.0, more='load_unit = "km/h"\n'))), "step 2, load_unit", ['"W"', "km/h"]),
    ("unit in a load", toml(changed(2, step('"12 km/h"', 1.0))), "step 2, load", ["in W", "12 km/h"]),
    ("pace in watts", toml(changed(2, step('"5:30"', 1.0))), "step 2, load", ["a plain number in W", "5:30"]),
    ("no unit", toml(load_unit=None), "load_unit", ["min/km", "found nothing"]),
    ("speed by bike", toml(load_unit='"km/h"'), "load_unit", ["cycling", "km/h"]),
    ("unknown sport", toml(sport='"runing"'), "sport", ['"running"', "runing", 'Did you mean "running"']),
    ("unknown key", toml(basline="[1.0]"), "basline", ['Did you mean "baseline"']),
    ("unknown step key", toml(changed(2, step(120, 1.0, more="hrmax = 100\n"))), "step 2, hrmax", ['"hr_max"']),
    ("number as text", toml(mass_kg='"heavy"'), "mass_kg", ["a number in kg", "heavy"]),
    ("truth as number", toml(changed(2, step("true", 1.0))), "step 2, load", ["a number", "True"]),
    ("not a number", toml(changed(2, step("nan", 1.0))), "step 2, load", ["a number", "nan"]),
    ("text as number", toml(state="3"), "state", ['"fed" or "fasted"', "3"]),
    ("no date", toml(date=None), "date", ["YYYY-MM-DD", "found nothing"]),
    ("bad date", toml(date='"3/4/2026"'), "date", ["YYYY-MM-DD", "3/4/2026"]),
    ("empty override", toml(override='"  "'), "override", ["reason", "empty"]),
    ("no baseline", toml(baseline=None), "baseline", ["samples", "found nothing"]),
    ("empty baseline", toml(baseline="[]"), "baseline", ["one or more", "none"]),
    ("no samples", toml(changed(2, "[[step]]\nload = 120\n")), "step 2, samples", ["one or more", "nothing"]),
    ("late minute", toml(changed(2, "[[step]]\nload = 120\nsamples = [{minute = 20, lactate = 1}]\n")), "step 2, sample 1, minute", ["within the 10-minute step", "20"]),
    ("gait by bike", toml(changed(2, step(120, 1.0, more='gait = "run"\n'))), "step 2, gait", ["cycling"]),
    ("analyser", toml(analyser_sd="{floor = 0.2, part = 0.1}"), "analyser_sd, part", ["no key", "fraction"]),
    ("step is no table", toml(["step = [1, 2, 3]\n"]), "step 1", ["a table", "1"]),
    ("huge number", toml(changed(2, step("1" + "0" * 400, 1.0))), "step 2, load", ["a number in W"]),
    ("nested too deep", "date = " + "[" * 9000, "", ["nested too deep"]),
    ("syntax", "date = 2026-04-20\nsport = cycling\n", "line 2, column 9", ["TOML"]),
    ("cut short", 'date = 2026-04-20\nsport = "cyc', "end of document", ["TOML"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "place", "parts"), [fault[1:] for fault in FAULTS], ids=[fault[0] for fault in FAULTS]
)
def test_faults_name_file_place_expected_and_found(tmp_path: Path, text: str, place: str, parts: list[str]) -> None:
    path = tmp_path / "faulty.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TestFileError) as caught:
        load_test(path)
    assert caught.value.place == place
    assert caught.value.file == str(path)
    assert caught.value.hint
    assert [part for part in parts if part not in str(caught.value)] == []


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b'note = "\xff\xfe"')
    with pytest.raises(TestFileError, match="UTF-8"):
        load_test(path)


def test_a_folder_is_read_by_date_then_name(tmp_path: Path) -> None:
    for name, day in (("b.toml", "2026-05-01"), ("c.toml", "2026-04-01"), ("a.toml", "2026-05-01")):
        (tmp_path / name).write_text(toml(date=day), encoding="utf-8")
    (tmp_path / "notes.txt").write_text("not a test", encoding="utf-8")
    (tmp_path / ".hidden.toml").write_text("not a test", encoding="utf-8")
    (tmp_path / "~$lock.xlsx").write_text("not a test", encoding="utf-8")
    assert [test.file for test in load_tests(tmp_path)] == ["c.toml", "a.toml", "b.toml"]
    assert [test.file for test in load_tests(tmp_path / "b.toml")] == ["b.toml"]


def test_an_empty_folder_holds_no_tests(tmp_path: Path) -> None:
    assert load_tests(tmp_path) == ()


def test_wrong_paths(tmp_path: Path) -> None:
    (tmp_path / "test.pdf").write_text("x", encoding="utf-8")
    with pytest.raises(UsageError, match="nothing at"):
        load_tests(tmp_path / "none")
    with pytest.raises(UsageError, match=r"\.toml, \.csv, \.xlsx, \.ods; found test\.pdf"):
        load_tests(tmp_path / "test.pdf")
    with pytest.raises(UsageError, match="found none"):
        load_test(tmp_path)
