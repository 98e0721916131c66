"""Plain words for the report and the terminal: labels, dates, shares, loads. Formats, computes nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from steadyband.audit.model import BAND_NAMES, Audit
from steadyband.ground.settings import Settings
from steadyband.ground.units import age_text as age_text
from steadyband.ground.units import counted as counted
from steadyband.ground.units import (
    duration_text,
    load_text,
    time_of_day,
    typed_load_text,
)
from steadyband.review.sentences import is_unsure
from steadyband.told.causes import listed
from steadyband.told.findings import is_unsure_of
from steadyband.told.findings import label_of as label_of
from steadyband.told.loads import NOUNS
from steadyband.told.loads import Loads as Loads
from steadyband.told.loads import edges_of as edges_of
from steadyband.told.loads import loads_of as loads_of

if TYPE_CHECKING:
    from steadyband.steptest.dialogue.plan import TestPlan

DASH = "–"
CHANNEL_WORDS = NOUNS
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
SESSION_WORDS: Mapping[str, str] = {
    "cycling": "ride",
    "running": "run",
    "walking": "walk",
    "hiking": "walk",
    "unknown": "session",
}
SPORT_WORDS: Mapping[str, str] = {"cycling": "by bike", "running": "running", "walking": "walking", "hiking": "walking"}


def session_word(sport: str) -> str:
    """What a session of that sport is called: ride, run, walk, or the sport itself."""
    return SESSION_WORDS.get(sport, sport.replace("_", " "))


def sport_word(sport: str) -> str:
    """The sport for a heading: "by bike", "running", or the sport itself."""
    return SPORT_WORDS.get(sport, sport.replace("_", " "))


def capital(text: str) -> str:
    """The text with its first letter as a capital, the rest as it is."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """The text begun with a capital and ended with a full stop."""
    text = text.strip()
    return capital(text) if not text or text[-1] in ".!?" else f"{capital(text)}."


def date_text(day: date) -> str:
    """ "20 April 2026"."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def day_text(day: date) -> str:
    """ "Tue 12 May"."""
    return f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1][:3]}"


def span_text(first: date, last: date) -> str:
    """ "11 to 17 May 2026", naming month and year twice only where they differ."""
    if first.year != last.year:
        return f"{date_text(first)} to {date_text(last)}"
    if first.month != last.month:
        return f"{first.day} {MONTHS[first.month - 1]} to {date_text(last)}"
    return f"{first.day} to {date_text(last)}"


def clock_of(audit: Audit, second: int) -> str:
    """Local time of day of one second of the session, with seconds: "08:31:04" or "8:31:04 am"."""
    return time_of_day(_local(audit, second), seconds=True)


def hour_of(audit: Audit, second: int = 0) -> str:
    """Local time of day of one second of the session, its start by default: "08:31" or "8:31 am"."""
    return time_of_day(_local(audit, second))


def _local(audit: Audit, second: int) -> datetime:
    return (audit.info.start + timedelta(seconds=int(second))).astimezone(audit.info.local_start.tzinfo)


def share_text(share: float | None) -> str:
    """A fraction as whole percent; what is there but rounds to nothing is "under 1 %"."""
    if share is None or not math.isfinite(share):
        return DASH
    return "under 1 %" if 0 < share < 0.005 else f"{share * 100:.0f} %"


def share_range_text(shares: tuple[float, float]) -> str:
    """ "12 to 24 %"."""
    low, high = (f"{share * 100:.0f}" for share in shares)
    return f"{high} %" if low == high else f"{low} to {high} %"


def setting_text(value: float, unit: str = "") -> str:
    """The value of a setting as it would be typed, with its unit."""
    return f"{value:.10g} {unit}".rstrip()


def window_word(seconds: float) -> str:
    """The length of a mean as an adjective: "ten-minute", "5 min"."""
    return "ten-minute" if seconds == 600 else duration_text(seconds)


def zero_or_time(seconds: float) -> str:
    """A length of time for a table, where none is "0"."""
    return duration_text(seconds) if seconds else "0"


def number_text(value: float | None, unit: str = "", digits: int = 0) -> str:
    """A number with its unit, thousands set off by commas; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return DASH
    return f"{value:,.{digits}f} {unit}".rstrip()


def signed_text(value: float | None, unit: str = "", digits: int = 0) -> str:
    """A change, with its sign."""
    if value is None or not math.isfinite(value):
        return DASH
    if not round(value, digits):
        return number_text(0.0, unit, digits)
    return f"{value:+,.{digits}f} {unit}".rstrip().replace("-", "−", 1)


def planned_load_text(plan: TestPlan, load_si: float) -> str:
    """A load of a planned test as it will be typed, a speed in mph beside it for readers in miles: "10.0 km/h (6.2 mph)"."""
    typed, shown = typed_load_text(load_si, plan.load_unit), load_text(load_si, plan.load_unit)
    return typed if typed == shown else f"{typed} ({shown})"


def session_title(audit: Audit) -> str:
    """ "Tue 12 May, ride"."""
    return f"{day_text(audit.info.local_start.date())}, {session_word(audit.info.sport)}"


def verdict_label(audit: Audit) -> str:
    """The verdict in a few words: "in band", "surges, load drift (unsure)", "not judged", "hard session, not judged"."""
    if audit.verdict.in_band:
        return "in band"
    if audit.verdict.in_band is None and audit.info.intent not in ("endurance", "easy"):
        return f"{audit.info.intent} session, not judged"
    labels = [label_of(item.code) + " (unsure)" * is_unsure_of(audit, item) for item in audit.verdict.findings]
    return ", ".join(labels) or ("not judged" if audit.verdict.in_band is None else "out of band")


def agreement_text(audit: Audit) -> str:
    """How sure the test is: of "in band", or of each finding in the order of the label; empty where nothing is judged.

    "agreement 86 %", "unsure: agreement 62 %", "agreement 92 % and 66 %".
    """
    verdict = audit.verdict
    if verdict.in_band is None or verdict.agreement is None:
        return ""
    if verdict.in_band:
        return f"{'unsure: ' if is_unsure(audit) else ''}agreement {share_text(verdict.agreement)}"
    told = [share_text(item.agreement) for item in verdict.findings if item.agreement is not None]
    return f"agreement {listed(told)}" if told else ""


def agreement_key(settings: Settings) -> str:
    """What an agreement is, in a sentence or two."""
    return (
        f"Agreement: how sure the test is. Of {settings.steptest.draws:,} lactate curves that fit the test this share says the "
        f"same. Under {share_text(settings.verdict.unsure_below)} it is unsure."
    )


def drift_span(audit: Audit) -> tuple[int, int] | None:
    """First second and end of the longest drifted run, where the drift is a finding; it counts banded seconds alone."""
    drift = audit.drift
    flagged = any(item.code == "zone_3_drift" for item in audit.verdict.findings)
    if drift is None or drift.load_longest_start_s is None or not flagged:
        return None
    start = drift.load_longest_start_s
    counted_s = np.flatnonzero(audit.traces.ribbon[start:] < len(BAND_NAMES))
    return start, start + int(counted_s[min(drift.load_longest_s, len(counted_s)) - 1]) + 1


def ribbon_keys(audits: Sequence[Audit], settings: Settings) -> dict[str, str]:
    """What the marks and colours of ribbons and the agreement mean, by name; empty where a mark does not occur."""
    drifted = any(drift_span(audit) for audit in audits)
    window = duration_text(settings.drift.window_s)
    return {
        "surge_key": f"by {settings.surges.window_s:g}-s means, at least {settings.surges.dose_s:g} s' worth of the ceiling above it",
        "drift_key": f"load drift: the {window} mean at or above the ceiling" if drifted else "",
        "colour_key": f"Colours show {settings.bands.window_s:g}-s means, so a short surge need not turn a ribbon heavy."
        + (
            f" The bracket judges means over {window}, the colours these short ones; both by the ceiling."
            if drifted
            else ""
        ),
        "agreement_key": agreement_key(settings) if any(agreement_text(audit) for audit in audits) else "",
    }


INTENT_SOURCES: Mapping[str, str] = {
    "assumed": "assumed as nobody labelled it",
    "look": "taken so by its load as nobody labelled it",
    "test loads": "as its day, sport and loads are those of a test",
}


def intent_text(audit: Audit) -> str:
    """ "endurance, assumed as nobody labelled it" or "endurance, from sessions.csv"."""
    source = audit.info.intent_source
    told = INTENT_SOURCES.get(source)
    if told:
        return f"{audit.info.intent}, {told}"
    return f"{audit.info.intent}, from {'its own name' if source == 'recording' else source}"


def _apart_text(days: int) -> str:
    """How long before a session its test was made: the age at the end of the week is another number."""
    if days == 0:
        return "made the same day"
    return f"made {counted(abs(days), 'day')} {'before' if days > 0 else 'later'}"


def compared_text(audit: Audit) -> str:
    """The plain statement of what the session was compared with."""
    zones = audit.zones
    if zones is None:
        return "Compared with no test: none applies to this session."
    text = f"Compared with the test of {date_text(zones.test_date)} ({zones.test}), {_apart_text(zones.age_days)}"
    text += "" if zones.freshness == "current" else f": {zones.freshness}"
    override = (
        f" The test failed a check and is used anyway, because: {sentence(zones.override)}" if zones.override else ""
    )
    by_heart = audit.load is not None and audit.load.channel == "heart_rate"
    blind = " Judged by heart rate, which cannot see micro-surges." if by_heart else ""
    return f"{text}.{blind}{override}"
