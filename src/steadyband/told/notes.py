"""What has to be said about a recording, its test and its ground, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from steadyband.audit.model import Audit, Price, ZonesUsed
from steadyband.ground.said import Said
from steadyband.ground.units import clock_text, height_text, load_text
from steadyband.steptest.choose import choice_text
from steadyband.told.loads import percent

Numbers = Mapping[str, Any]


def quality_notes(audit: Audit) -> tuple[str, ...]:
    """A sentence for each note on the recording, its load and its test."""
    return tuple(_note(note, audit.zones) for note in audit.quality.notes)


TAKEN = ("taken_as_easy", "tested_after", "test_named")
"""Notes on what was taken for granted, in one audit as on the pages."""


def taken_notes(audit: Audit) -> tuple[str, ...]:
    """A sentence for each thing that was taken for granted: the intent by the load, a test made later or named."""
    return tuple(_note(note, audit.zones) for note in audit.quality.notes if note.code in TAKEN)


def _note(said: Said, zones: ZonesUsed | None) -> str:
    by_test = ON_TEST.get(said.code)
    if by_test is not None and zones is not None:
        return by_test(zones)
    words = NOTES.get(said.code)
    return words(said.numbers) if words else _as_read(said)


def _as_read(said: Said) -> str:
    """What a reader had to say of its file stands in the reader's own words."""
    return str(said.numbers.get("text") or f"{said.code.replace('_', ' ').capitalize()}.")


def ground_note(audit: Audit) -> str | None:
    """What is not known of the ground; None where nothing is missing."""
    notes = audit.ground.notes if audit.ground else ()
    return " ".join(_note(note, audit.zones) for note in notes) or None


def price_note(price: Price) -> str:
    """How the price of riding smooth is to be read, or why it is withheld."""
    if price.note.code == "model_misses":
        return f"Withheld: the model misses the time really ridden by {100 * price.note.numbers['error']:+.1f} %."
    if price.note.code == "too_little_known":
        return "Withheld: too little of the ride lies on known ground with power and speed."
    return "An estimate by a road model fitted to this ride: wind, drafting and bends are not known."


def _days(number: int) -> str:
    return f"{number} day" if number == 1 else f"{number} days"


def _open_ceiling(zones: ZonesUsed) -> str:
    least = load_text(zones.ceiling_at_least or zones.target_top, zones.load_unit)
    return (
        f"The ceiling is open: the test ended at {least} before reaching it, so heavy time and surges cannot be told. "
        "Test again with further steps."
    )


def _no_floor(zones: ZonesUsed) -> str:
    last = load_text(zones.target_top, zones.load_unit)
    return f"The floor lies above the last load tested ({last}): the test ended too early."


def _low_threshold(zones: ZonesUsed) -> str:
    threshold, ceiling = load_text(zones.threshold, zones.load_unit), load_text(zones.ceiling, zones.load_unit)
    return (
        f"The upper threshold of {threshold} lies below the ceiling of {ceiling}: heavy is empty, and severe begins at the "
        "ceiling."
    )


ON_TEST: Mapping[str, Callable[[ZonesUsed], str]] = {
    "open_ceiling": _open_ceiling,
    "no_floor": _no_floor,
    "untested": lambda zones: (
        "No step of the test lay inside the steady band: its edges are read off the curve between two steps."
    ),
    "easy_empty": lambda zones: "The test found no easy band: everything below the ceiling counts as steady.",
    "test_aged": lambda zones: f"The test was {zones.age_days} days old ({zones.freshness}): test again.",
    "test_overridden": lambda zones: f"The test's quality check was overridden by the athlete: {zones.override}",
    "threshold_below_ceiling": _low_threshold,
    "tested_after": lambda zones: (
        f"This session was before its sport's first usable test, which was made {_days(-zones.age_days)} later: it is judged by "
        "that test, as if you had been as fit then."
    ),
    "test_named": lambda zones: f"Judged by the test that was named ({zones.test}), whatever its date.",
}


def taken_as_easy_text(numbers: Numbers) -> str:
    """That a session was taken as easy, why, and the row of sessions.csv that says otherwise.

    >>> taken_as_easy_text({"share": 0.84, "date": "2026-05-13", "time": "17:40", "sport": "cycling"})
    'Taken as easy, as nobody labelled it and 84 % of its active time lay below the floor. If it was meant to be steady, answer `steadyband label`, or add to sessions.csv: 2026-05-13,17:40,endurance,cycling,'
    """
    row = f"{numbers['date']},{numbers['time']},endurance,{'' if numbers['sport'] == 'unknown' else numbers['sport']},"
    return (
        f"Taken as easy, as nobody labelled it and {percent(numbers['share'])} of its active time lay below the floor. If it was "
        f"meant to be steady, answer `steadyband label`, or add to sessions.csv: {row}"
    )


def _leapt(numbers: Numbers) -> str:
    places = [f"{height_text(leap['metres'])} at {clock_text(leap['at_s'])}" for leap in numbers["leaps"]]
    told = ", ".join(places) + (f" and {numbers['more']} more" if numbers["more"] else "")
    return f"The altimeter leapt or drifted without the ground: {told} from the start; taken out of the hills."


def _offset(numbers: Numbers) -> str:
    line = f"{numbers['intercept_w']:+.1f} W and x {numbers['slope']:.3f}"
    return (
        f"Power of {numbers['device']} was turned into that of the test's meter ({numbers['test_meter']}): {line}, as "
        "athlete.toml says."
    )


def _slope_window(numbers: Numbers) -> str:
    return (
        f"The altimeter wanders by about {height_text(numbers['altimeter_m'], 1)}: grade is taken over {height_text(numbers['slope_half_m'])} "
        "each way, so short ramps are smoothed."
    )


def _grade_unsure(numbers: Numbers) -> str:
    return (
        f"The altimeter wanders by about {height_text(numbers['altimeter_m'], 1)}, so grade is good to {100 * numbers['grade_error']:.1f} points "
        "only: surges would be noise and are not counted, time in band is rough, and only sustained efforts are judged."
    )


def _speed_unsure(numbers: Numbers) -> str:
    return (
        f"Speed jumps by about {100 * numbers['speed_share']:.0f} % from second to second: surges would be noise and are not counted, and "
        "only sustained efforts are judged."
    )


NOTES: Mapping[str, Callable[[Numbers], str]] = {
    "later_test_blocked": lambda numbers: choice_text(Said("later_test_blocked", numbers)),
    "by_heart_rate": lambda numbers: (
        "Judged by heart rate against the test's heart-rate limits: heart rate lags the load and cannot see micro-surges, "
        "so none are counted. Only the first 40 active minutes are judged: after that its own drift and load cannot be told apart."
    ),
    "hills_unknown": lambda numbers: (
        "The recording carries no usable altitude: speed is taken as it is, hills could not be accounted for."
    ),
    "grade_unknown": lambda numbers: (
        f"Grade is unknown for {numbers['unknown_s']} of {numbers['active_s']} active seconds, which count as flat."
    ),
    "slope_window": _slope_window,
    "grade_unsure": _grade_unsure,
    "speed_unsure": _speed_unsure,
    "taken_as_easy": lambda numbers: taken_as_easy_text(numbers),
    "meter_offset": _offset,
    "altimeter_leapt": _leapt,
    "no_altitude": lambda numbers: (
        "The recording carries no usable altitude: climbs and the causes of surges on hills are unknown."
    ),
    "gears_unknown": lambda numbers: (
        f"Forced or avoidable is not judged: athlete.toml has no {', '.join(numbers['missing'])}."
    ),
}
