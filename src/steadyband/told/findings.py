"""Every finding in words: `WORDS` has one entry a code, in the order in which findings are worth changing (design choice)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from steadyband.audit.model import Audit, Finding
from steadyband.ground.units import clock_text, duration_text, length_text, temperature_text, time_of_day
from steadyband.told.causes import BY_BIKE, ON_FOOT, WHERE, advice_text, causes_text, leading
from steadyband.told.loads import Phrases, edges_of, loads_of, percent, phrases_of
from steadyband.told.reasons import reasons_text


@dataclass(frozen=True, slots=True)
class Words:
    """What is said of one finding.

    `label` names it, `change` says in one short line what to do, with the number to do it by, `where` on which part of the
    session that rests, `sentence` is the whole with what to do, `short` its numbers alone, `did` what the session did ("surged
    above the ceiling 12 times"). `leads`: the label stands before the sentence where that stands alone.
    """

    label: str
    change: Callable[[Audit], str]
    where: Callable[[Audit], str]
    sentence: Callable[[Audit, Finding], str]
    short: Callable[[Audit], str]
    did: Callable[[Audit], str]
    leads: bool = False


def words_of(code: str) -> Words:
    """The words of a finding; plain neutral ones for a code that has none yet."""
    return WORDS.get(code) or _neutral(code)


def _neutral(code: str) -> Words:
    label = code.replace("_", " ")
    return Words(
        label=label,
        change=lambda audit: f"Look at this: {label}.",
        where=lambda audit: "",
        sentence=lambda audit, found: f"Found: {label}. The evidence has the numbers.",
        short=lambda audit: "",
        did=lambda audit: f"left the band: {label}",
    )


def finding_text(audit: Audit, found: Finding) -> str:
    """A finding of `audit` as one text that stands alone: what was found, what to do, and whether it is unsure."""
    words = words_of(found.code)
    lead = f"{_capital(words.label)}: " if words.leads and not asked(audit) else ""
    return f"{lead}{finding_sentence(audit, found)}"


def finding_sentence(audit: Audit, found: Finding) -> str:
    """The same without its label, for places that show the label beside it."""
    text = words_of(found.code).sentence(audit, found)
    if found.agreement is None or not is_unsure_of(audit, found):
        return text
    return f"{text} Unsure: only {percent(found.agreement)} of the curves that fit the test agree."


def is_unsure_of(audit: Audit, found: Finding) -> bool:
    """True where a finding's own agreement is under the share that counts as sure."""
    return found.agreement is not None and found.agreement < audit.settings.verdict.unsure_below


def label_of(code: str) -> str:
    """The plain label of a finding's code; an unknown code is shown with spaces.

    >>> label_of("zone_3_drift"), label_of("not_named_yet")
    ('load drift', 'not named yet')
    """
    return words_of(code).label


def rank_of(found: Finding) -> int:
    """Place of a finding in the order in which findings are worth changing."""
    return list(WORDS).index(found.code) if found.code in WORDS else len(WORDS)


def asked(audit: Audit) -> bool:
    """True where a session is asked about rather than judged."""
    return any(reason.code == "asked" for reason in audit.verdict.reasons)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _share(audit: Audit, *bands: str) -> float:
    return sum(audit.bands[name].share for name in bands) if audit.bands else 0.0


def _whole(share: float) -> str:
    """A share as whole percent; what is there but rounds to nothing is "under 1 %"."""
    return "under 1 %" if 0 < share < 0.005 else f"{share * 100:.0f} %"


def mean_text(audit: Audit) -> str:
    """ "mean 151 W, target top 160 W"; without a test the mean alone."""
    if audit.load is None:
        return "no load was measured"
    mean = f"mean {loads_of(audit).text(audit.load.mean)}"
    if audit.zones is None:
        return mean
    return f"{mean}, target top {loads_of(audit).text(edges_of(audit)['target top'])}"


def _drifted(audit: Audit, found: Finding) -> str:
    said, window = phrases_of(audit), audit.settings.drift.window_s
    start, length = (audit.drift and audit.drift.load_longest_start_s) or 0, found.evidence["load_longest_s"]
    moment = (audit.info.start + timedelta(seconds=start)).astimezone(audit.info.local_start.tzinfo)
    return (
        f"Drifted above the ceiling (into lower heavy): from {time_of_day(moment)} ({clock_text(start)} into the session) the "
        f"{duration_text(window)} mean of {said.noun} stayed at or {said.above} {said.ceiling} for "
        f"{duration_text(length)}. Cap the load there and let the pace fall, or end the session earlier."
    )


def _drift_short(audit: Audit) -> str:
    seconds = duration_text(audit.drift.load_longest_s) if audit.drift else "–"
    ceiling = loads_of(audit).text(edges_of(audit)["ceiling"])
    return f"{seconds} with the {duration_text(audit.settings.drift.window_s)} mean at or above {ceiling}"


def _too_high(audit: Audit, found: Finding) -> str:
    said, numbers = phrases_of(audit), found.evidence
    part = f" of the first {duration_text(numbers['judged_s'])}" if "judged_s" in numbers else ""
    return (
        f"mean {said.noun}{part} was {said.loads.text(numbers['mean_band_load'])}, at or {said.above} {said.ceiling}; "
        f"{percent(numbers['heavy_share'])} of {'it' if part else 'the measured time'} was heavy. Start easier and keep the average {said.aim}."
    )


def _surges(audit: Audit, found: Finding) -> str:
    said, numbers, limits, surges = phrases_of(audit), found.evidence, audit.settings.verdict, audit.surges
    sustained = f" and {_count(numbers['sustained'], 'sustained effort')}" if numbers["sustained"] else ""
    on_foot = audit.info.sport in ("running", "walking", "hiking")
    causes = causes_text(surges, limits.causes_named) if surges else ""
    advice = advice_text(surges, on_foot) if surges else ""
    advice = advice or _SMOOTHER.get(audit.info.sport, _SMOOTHER_ANY)
    return (
        f"{_count(numbers['micro'], 'micro-surge')}{sustained} {said.above} {said.ceiling}: "
        f"{numbers['surges_per_hour']:.0f} an hour (flagged from {limits.surges_per_hour:g}). {_beyond(audit, numbers)} "
        f"{f'{causes} {advice}'.strip()}"
    )


def _beyond(audit: Audit, numbers: Mapping[str, Any]) -> str:
    """What of the work above the ceiling uneven pedalling or running does not explain, and from where it is flagged."""
    limits = audit.settings.verdict
    what, uneven = ("Work above it", "pedalling") if _by_power(audit) else ("Distance gained on its pace", "running")
    beyond = worth_text(audit, numbers["above_per_hour_s"] - numbers["explained_per_hour_s"])
    return (
        f"{what}, beyond what uneven {uneven} explains: {beyond} an hour (flagged from {worth_text(audit, limits.surges_beyond_s)}, "
        f"with fewer surges from {worth_text(audit, limits.surges_alone_s)})."
    )


def _by_power(audit: Audit) -> bool:
    return audit.load is not None and audit.load.channel == "power"


def worth_text(audit: Audit, seconds: float) -> str:
    """So many seconds' worth of the ceiling: kJ for power, a length gained on the ceiling's pace for speeds."""
    worth = seconds * phrases_of(audit).edges.ceiling
    return f"{worth / 1000:.1f} kJ" if _by_power(audit) else length_text(worth)


_SMOOTHER = {
    "cycling": "Ease off before each rise, shift down early and start again gently after every stop.",
    "running": "Shorten the stride before each rise, and walk where the hill would force the load up.",
}
_SMOOTHER_ANY = "Ease off before each rise and start again gently after every stop."


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}" if number == 1 else f"{number:,} {word}s"


def _surges_short(audit: Audit) -> str:
    if audit.surges is None:
        return ""
    above = loads_of(audit).text(edges_of(audit)["ceiling"])
    return f"{_count(audit.surges.count, 'surge')} above {above}, {_whole(audit.surges.share_above)} of the time"


def _surged(audit: Audit) -> str:
    found = audit.surges
    if found is None or not found.count:
        return "went above the ceiling again and again"
    return "surged above the ceiling " + ("once" if found.count == 1 else f"{found.count} times")


def _heart_above(audit: Audit, found: Finding) -> str:
    said, numbers = phrases_of(audit), found.evidence
    return (
        f"Heart rate was above {numbers['hr_ceiling_bpm']:.0f} bpm, the test's limit at the ceiling, for "
        f"{duration_text(numbers['hr_above_test_s'])} ({percent(numbers['share'])} of the time) while the {said.noun} was "
        f"{said.below} the ceiling. {_heat(audit, numbers)}"
        "Heat, fatigue, illness or an old test can do this: rest if you feel unwell, and test again if it keeps coming."
    )


def _heart_above_short(audit: Audit) -> str:
    seconds = audit.drift.hr_above_test_s if audit.drift else None
    limit = audit.zones.hr_ceiling if audit.zones else None
    told = "–" if limit is None else f"{limit:.0f} bpm"
    return f"heart rate above {told} for {duration_text(seconds or 0)} while the load was below the ceiling"


def _heart_drift(audit: Audit, found: Finding) -> str:
    said, numbers = phrases_of(audit), found.evidence
    return (
        f"Heart rate against {said.noun} rose by {numbers['hr_drift_percent']:.1f} % from the first half to the second "
        f"({_halves(said, numbers)}flagged over {audit.settings.drift.hr_drift_percent:g} % by common practice, no published cut-off exists). "
        f"{_heat(audit, numbers)}Heat, little airflow, too little fluid, fatigue and sheer duration all do this: mend those "
        "first, and keep the next one cooler or shorter."
    )


def _halves(said: Phrases, numbers: Mapping[str, Any]) -> str:
    """Heart rate and load of both halves; nothing where a shared copy leaves heart rate out."""
    if "hr_first_half_bpm" not in numbers:
        return ""
    parts = [
        f"{numbers[f'hr_{half}_half_bpm']:.0f} bpm at {said.loads.text(numbers[f'load_{half}_half'])}"
        for half in ("first", "second")
    ]
    return f"{', then '.join(parts)}; "


def _heat(audit: Audit, numbers: Mapping[str, Any]) -> str:
    celsius = numbers.get("temperature_c")
    if celsius is None or celsius < audit.settings.block.hot_c:
        return ""
    return f"It was {temperature_text(celsius)} by the device: a hot session. "


def _heart_drift_short(audit: Audit) -> str:
    change = audit.drift.hr_drift_percent if audit.drift else None
    told = "–" if change is None else f"{change:+.1f} %".replace("-", "−") if round(change, 1) else "0.0 %"
    return f"heart rate against load {told}"


def _hot(audit: Audit) -> str:
    change = audit.drift.hr_drift_percent if audit.drift else None
    return (
        f"held its load while heart rate drifted up {change:.0f} %" if change is not None else "saw heart rate drift up"
    )


def _steady_in_easy(audit: Audit, found: Finding) -> str:
    said, limit = phrases_of(audit), audit.settings.verdict.steady_share
    return (
        f"{percent(found.evidence['share_steady_or_harder'])} of a session meant to be easy was steady or harder (limit "
        f"{percent(limit)}). Stay {said.below} {said.loads.text(said.edges.floor)}."
    )


def _no_easy_band(audit: Audit, found: Finding) -> str:
    share = percent(found.evidence["share_steady_or_harder"])
    if audit.info.sport == "running":
        return (
            f"This test shows no easy running, so a run cannot be an easy session: {share} of it was steady or "
            "harder. Put the easy time on the bike or on foot walking."
        )
    return (
        f"This test shows no easy band: {share} of a session meant to be easy was steady or harder. "
        "Test again from a lower first load to find out where easy begins."
    )


def _too_low(audit: Audit, found: Finding) -> str:
    said, numbers = phrases_of(audit), found.evidence
    easy = f"easy, {said.below} {said.loads.text(said.edges.highest_easy)}"
    apart = " other than coasting" if audit.seconds.coasting else ""
    return (
        f"{percent(numbers['easy_share'])} of the time{apart} was {'walked' if said.edges.easy_empty else easy} (limit "
        f"{percent(audit.settings.verdict.easy_share)}). For a steady session keep the average {said.aim}."
    )


def _hold_end(audit: Audit) -> str:
    said = phrases_of(audit)
    return f"Hold the last part at {said.top} or {_lower(said)}."


def _lower(said: Phrases) -> str:
    return "slower" if said.below == "slower than" else "less"


def _above_from(audit: Audit) -> str:
    start = (audit.drift and audit.drift.load_longest_start_s) or 0
    seconds = audit.drift.load_longest_s if audit.drift else 0
    moment = (audit.info.start + timedelta(seconds=start)).astimezone(audit.info.local_start.tzinfo)
    return f"{duration_text(seconds)} above {_ceiling(audit)} from {time_of_day(moment)}"


def _ceiling(audit: Audit) -> str:
    """The ceiling as a load, or the upper threshold where the ceiling is open."""
    return phrases_of(audit).ceiling.rsplit(" of ", 1)[1]


def _take_tops_off(audit: Audit) -> str:
    said, found = phrases_of(audit), audit.surges
    words = ON_FOOT if audit.info.sport in ("running", "walking", "hiking") else BY_BIKE
    leads = leading(found, 1) if found else []
    do = _capital(words[leads[0]]) if leads else "Keep one even effort"
    return f"{do}: stay {said.below} {_ceiling(audit)}."


def _surges_where(audit: Audit) -> str:
    found = audit.surges
    if found is None or not found.count:
        return f"the load went above {_ceiling(audit)} again and again"
    leads = leading(found, 1)
    told = f"{_count(found.count, 'surge')} above {_ceiling(audit)}"
    if not leads:
        return told
    most = found.by_cause[leads[0]]
    return f"{told}, {'' if most == found.count else f'{most} '}{WHERE[leads[0]]}"


def _heart_limit(audit: Audit) -> str:
    limit = audit.zones.hr_ceiling if audit.zones else None
    return "the test's limit" if limit is None else f"{limit:.0f} bpm"


def _keep_easy(audit: Audit) -> str:
    said = phrases_of(audit)
    do = {"running": "Run", "cycling": "Ride"}.get(audit.info.sport, "Go")
    return f"{do} easy {said.below} {said.loads.text(said.edges.floor)}."


WORDS: Mapping[str, Words] = {
    "zone_3_drift": Words(
        label="load drift",
        change=_hold_end,
        where=_above_from,
        sentence=_drifted,
        short=_drift_short,
        did=lambda audit: (
            f"drifted above the ceiling for {duration_text(audit.drift.load_longest_s if audit.drift else 0)}"
        ),
    ),
    "too_high": Words(
        label="too high",
        change=lambda audit: f"Start lower: average {phrases_of(audit).aim}.",
        where=lambda audit: mean_text(audit).split(",")[0],
        sentence=_too_high,
        short=lambda audit: f"{mean_text(audit)}; {_whole(_share(audit, 'heavy', 'severe'))} heavy",
        did=lambda audit: (
            f"was too high as a whole, {100 * _share(audit, 'heavy', 'severe'):.0f} % of it above the ceiling"
        ),
        leads=True,
    ),
    "surges": Words(
        label="surges",
        change=_take_tops_off,
        where=_surges_where,
        sentence=_surges,
        short=_surges_short,
        did=_surged,
    ),
    "heart_rate_above_test": Words(
        label="heart rate above the test",
        change=lambda audit: f"Ease off or rest while heart rate runs above {_heart_limit(audit)}.",
        where=lambda audit: (
            f"{duration_text((audit.drift and audit.drift.hr_above_test_s) or 0)} above it with the load below the ceiling"
        ),
        sentence=_heart_above,
        short=_heart_above_short,
        did=lambda audit: "ran a heart rate above the test's",
    ),
    "heart_rate_drift": Words(
        label="heart-rate drift",
        change=lambda audit: "Mind heat, air and drink, or make the next one shorter.",
        where=lambda audit: _hot(audit).replace("held its load while heart rate", "heart rate").replace("saw ", ""),
        sentence=_heart_drift,
        short=_heart_drift_short,
        did=_hot,
    ),
    "steady_in_easy": Words(
        label="steady where easy was meant",
        change=_keep_easy,
        where=lambda audit: f"{_whole(_share(audit, 'steady', 'heavy', 'severe'))} of it was steady or harder",
        sentence=_steady_in_easy,
        short=lambda audit: f"{_whole(_share(audit, 'steady', 'heavy', 'severe'))} steady or harder",
        did=lambda audit: "was meant easy and became steady",
    ),
    "no_easy_band": Words(
        label="no easy band",
        change=lambda audit: (
            "Do easy time on the bike or walking."
            if audit.info.sport == "running"
            else "Test again from a lower first load."
        ),
        where=lambda audit: "meant easy, and the test shows no easy band",
        sentence=_no_easy_band,
        short=lambda audit: "meant easy, but the test shows no easy band",
        did=lambda audit: "was meant easy, but the test has no easy band",
    ),
    "too_low": Words(
        label="too low",
        change=lambda audit: f"If it was meant steady, average {phrases_of(audit).aim}.",
        where=lambda audit: f"{_whole(_share(audit, 'easy'))} of it was easy",
        sentence=_too_low,
        short=lambda audit: f"{_whole(_share(audit, 'easy'))} easy",
        did=lambda audit: f"stayed mostly easy, {100 * _share(audit, 'easy'):.0f} % of it",
        leads=True,
    ),
    "not_judged": Words(
        label="not judged",
        change=lambda audit: "See why it was not judged.",
        where=lambda audit: reasons_text(audit.verdict.reasons),
        sentence=lambda audit, found: f"{reasons_text(audit.verdict.reasons)}.",
        short=lambda audit: reasons_text(audit.verdict.reasons),
        did=lambda audit: "was not judged",
        leads=True,
    ),
}
