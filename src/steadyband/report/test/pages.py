"""Pages around a step test: plan sheet, zone card, the test's own report, two meters, tests over time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from jinja2 import Environment
from markupsafe import Markup

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import load_text, pace_unit
from steadyband.report.card.view import CARD_CAUTIONS, CardColumn, card_columns
from steadyband.report.common import pages, palette
from steadyband.report.common.assets import policies
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.version import version
from steadyband.report.common.view import Plot, Table, plot
from steadyband.report.common.words import (
    DASH,
    Loads,
    capital,
    counted,
    date_text,
    number_text,
    planned_load_text,
    sentence,
    signed_text,
    sport_word,
)
from steadyband.report.test.answers import answer_of_test, answer_of_tests
from steadyband.report.test.figure_curve import curve_figure, curve_words
from steadyband.report.test.figure_readings import (
    edges_over_time_table,
    history_figure,
    history_words,
    meters_dots_table,
    meters_figure,
    readings_figure,
    readings_table,
    readings_words,
)
from steadyband.report.test.view import edges_table
from steadyband.steptest.curve.checks import step_name
from steadyband.steptest.dialogue.plan import CAUTIONS, SAMPLING, STATE, TestPlan
from steadyband.steptest.dialogue.remarks import clock
from steadyband.steptest.history import HistoryGroup, change_sentence, history
from steadyband.steptest.meters import MeterComparison, offset_to_test_meter
from steadyband.steptest.model import ZoneSet
from steadyband.steptest.sentences import overrides_of, zone_sentences

BLANK_STEPS = 2
SEVERITIES = {"block": "Stops it", "warn": "Warning", "evidence": "Evidence"}
SOURCES = (
    "Scatter and bias of handheld analysers: Mentzoni et al. (2024), doi:10.1007/s00421-024-05572-6; Bonaventura et al. "
    "(2015), J Sports Sci Med 14:203-214.",
    "Repeatability limit of two readings, 2.8 standard deviations: ISO 5725-6 (from memory).",
    "Baseline + 1.0 mmol/L and day-to-day repeatability: Heuberger et al. (2018), doi:10.1371/journal.pone.0206846.",
    "Last load before the rise + 0.5 mmol/L, by bike: Pallares et al. (2016), doi:10.1371/journal.pone.0163389.",
    "Intensity domains: doi:10.1007/s00421-021-04780-8. Step length: doi:10.1123/ijspp.2017-0258.",
    "Log-log breakpoint: Beaver, Wasserman and Whipp (1985), doi:10.1152/jappl.1985.59.6.1936 (from memory).",
    "Fixed 2.0 mmol/L, the baseline limit, flat steps, step height and retesting after 8 weeks: common practice, no single "
    "source. The rises of 0.3 and 0.65 mmol/L are design choices.",
    "Lactate as a flat part and an exponential rise: Hughson, Weisiger and Swanson (1987), J Appl Physiol 62:1975 (from memory).",
)


def plan_page(plan: TestPlan) -> str:
    """The plan as a one-page sheet to print and write on."""
    rows = [
        (step.number, planned_load_text(plan, step.load_si), _pace(plan, step.load_si), _expected(step))
        for step in plan.steps
    ]
    blank = range(len(plan.steps) + 1, len(plan.steps) + 1 + BLANK_STEPS)
    return (
        _sheets()
        .get_template("plan.html.j2")
        .render(
            plan=plan,
            title=f"Step test {sport_word(plan.sport)}",
            rows=rows,
            blank=list(blank),
            due=[clock(minute) for minute in plan.sample_minutes],
            spare=[clock(minute) for minute in plan.spare_minutes],
            height=load_height(plan),
            pace=pace_unit(),
            state=STATE,
            sampling=SAMPLING,
            cautions=CAUTIONS,
            rise=plan.settings.rise,
            top=plan.settings.ceiling_rise,
            **_sheet_assets(),
        )
    )


def card_page(zone_sets: Sequence[ZoneSet], on: date, settings: StepTestSettings, name: str = "") -> str:
    """The zone card of all sports, side by side, as a one-page sheet to print. `on` is the date it is made for."""
    columns: tuple[CardColumn, ...] = card_columns(zone_sets, on, settings)
    return (
        _sheets()
        .get_template("card.html.j2")
        .render(
            columns=columns,
            title="Zone card" + (f" of {name}" if name else ""),
            on=date_text(on),
            cautions=CARD_CAUTIONS,
            **_sheet_assets(),
        )
    )


def step_test_page(zone_set: ZoneSet, beside: Beside = ALONE) -> str:
    """The test's own report: curve, edges, heart rate, checks, other readings, sources; `beside`: what it may count on."""
    test = zone_set.test
    plots = [plot("curve", curve_figure(zone_set), curve_words(zone_set), samples_table(zone_set))]
    if zone_set.usable:
        plots.append(plot("readings", readings_figure(zone_set), readings_words(zone_set), readings_table(zone_set)))
    told = zone_sentences(zone_set)
    methods = [line for line in told if line.startswith("How far the methods disagree")]
    return _render(
        "test.html.j2",
        plots,
        beside,
        title=f"{capital(sport_word(test.sport))}: step test of {date_text(test.date)}",
        made_for=f"test {test.date} {test.sport}",
        facts=_facts(zone_set),
        answer=answer_of_test(zone_set),
        override=test.override,
        pulse=any(point.hr_max is not None for point in zone_set.curve),
        sentences=[line for line in told if line not in methods],
        methods=methods,
        checks=[(SEVERITIES[check.severity], sentence(check.text)) for check in zone_set.checks],
        curve=plots[0],
        readings=plots[1] if zone_set.usable else None,
        edges=edges_table(zone_set) if zone_set.usable else None,
        settings=settings_line(zone_set),
        sources=SOURCES,
        cautions=CAUTIONS,
    )


def meters_page(comparison: MeterComparison, beside: Beside = ALONE) -> str:
    """Two meters on one session: how much more the second reads, at each load; `beside`: what it may count on."""
    name = f"{comparison.name_b} against {comparison.name_a}"
    figure = plot("meters", meters_figure(comparison), " ".join(meter_lines(comparison)), meters_dots_table(comparison))
    return _render(
        "meters.html.j2",
        [figure],
        beside,
        title=f"Two meters: {name}",
        answer=meter_lines(comparison)[0],
        lines=meter_lines(comparison)[1:],
        table=meters_table(comparison),
    )


def history_page(zone_sets: Sequence[ZoneSet], beside: Beside = ALONE) -> str:
    """Edges of all tests over time, per sport and state, and what changed beyond the ranges; `beside`: what it may count on."""
    groups = history(zone_sets)
    plots = [
        plot(f"group{number}", history_figure(group), history_words(group), edges_over_time_table(group))
        for number, group in enumerate(groups)
    ]
    views = [
        (group_title(group), figure, history_table(group), overrides_of(group.zone_sets), comparison_lines(group))
        for group, figure in zip(groups, plots, strict=True)
    ]
    return _render(
        "tests_over_time.html.j2",
        plots,
        beside,
        title="Step tests over time",
        answer=answer_of_tests(groups),
        groups=views,
    )


def group_title(group: HistoryGroup) -> str:
    """ "By bike, fed: 3 tests"."""
    return f"{capital(sport_word(group.sport))}, {group.state}: {counted(len(group.zone_sets), 'test')}"


def history_table(group: HistoryGroup) -> Table:
    """One row a test: date, edges with ranges, heart rate at the ceiling, analyser."""
    share = f"{group.zone_sets[-1].settings.range_share * 100:.0f} % range"
    head = ("date", "floor", share, "target top", "ceiling", share, "heart rate at ceiling", "analyser")
    return Table("All tests", head, tuple(_history_row(item) for item in group.zone_sets))


def comparison_lines(group: HistoryGroup) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(heading, sentences) of every test against the one before: what changed, what did not, what else differs."""
    found = []
    for item in group.comparisons:
        lines = [change_sentence(change, group.load_unit) for change in item.changes]
        head = f"{date_text(item.before.test.date)} to {date_text(item.now.test.date)}"
        found.append((head, (*lines, *item.cautions)))
    return tuple(found)


def offset_lines(comparison: MeterComparison) -> str:
    """The table for athlete.toml that turns watts of the second meter into those of the first, the test's."""
    offset = offset_to_test_meter(comparison, comparison.name_a)
    return (
        f"If the test was done on the meter of {comparison.name_a}, this table in athlete.toml applies the offset (name your own\n"
        "device and the `meter` of your test file):\n\n"
        '[[meter_offset]]\ndevice = "a word of the device name"\ntest_meter = "the meter of the test file"\n'
        f"intercept_w = {offset.intercept_w:.2f}\nslope = {offset.slope:.4f}\n"
    )


def meter_lines(comparison: MeterComparison) -> tuple[str, ...]:
    """What the comparison says, in sentences."""
    a, b = comparison.name_a, comparison.name_b
    low, high = comparison.difference_range
    minutes = len(comparison.means_a) / 2
    more = "more" if comparison.difference_w >= 0 else "less"
    clear = "" if low > 0 or high < 0 else " The interval holds zero: no difference is shown."
    lines = [
        f"{b} reads {abs(comparison.difference_w):.1f} W {more} than {a} (median of {minutes:g} minutes above 50 W; 95 % "
        f"interval {signed_text(low, 'W', 1)} to {signed_text(high, 'W', 1)}).{clear}",
        f"Line: {b} = {signed_text(comparison.intercept_w, 'W', 1)} + {comparison.slope:.3f} x {a} (95 % intervals "
        f"{signed_text(comparison.intercept_range[0], 'W', 1)} to {signed_text(comparison.intercept_range[1], 'W', 1)} and "
        f"{comparison.slope_range[0]:.3f} to {comparison.slope_range[1]:.3f}).",
        f"Clocks: {b} moved by {comparison.lag_s:+d} s to meet {a}; correlation of 1-s power {comparison.correlation:.3f}.",
    ]
    if comparison.narrow:
        lines.append(
            "The loads of this session lie close together, so the slope says little: use the median difference."
        )
    lines.append("Nothing is changed by this: the offset is applied to sessions only where athlete.toml names it.")
    return tuple(lines)


def meters_table(comparison: MeterComparison) -> Table:
    """Median difference at the loads of the session, in five parts from low to high."""
    order = comparison.means_a.argsort()
    parts = [part for part in _fifths(order.tolist()) if part]
    rows = tuple(_meter_row(comparison, part) for part in parts)
    head = (
        f"{comparison.name_a}, from",
        "to",
        f"{comparison.name_b} minus {comparison.name_a}, median",
        "half minutes",
    )
    return Table("By load", head, rows)


def settings_line(zone_set: ZoneSet) -> str:
    """The settings behind the edges, in a sentence."""
    s, sd = zone_set.settings, zone_set.test.analyser_sd
    return (
        f"Floor, target top and ceiling: where the curve stands {s.rise:g}, {s.target_rise:g} and {s.ceiling_rise:g} mmol/L above its "
        f"flat part. Analyser: standard deviation {sd.floor:g} mmol/L or {sd.fraction * 100:g} % of the reading, whichever is larger; "
        f"the samples of this test scatter {zone_set.scatter:.1f} times that. Ranges: {s.range_share * 100:.0f} % over {s.draws:,} curves, "
        f"seed {s.seed}. A step's samples are those of its second half."
    )


def samples_table(zone_set: ZoneSet) -> Table:
    """The table behind the curve: every sample, the step's value, the curve and the highest heart rate."""
    test = zone_set.test
    base = ("baseline", ", ".join(f"{value:.1f}" for value in test.baseline), *_point(zone_set, 0))
    rows = [base]
    for number, step in enumerate(test.steps, 1):
        samples = ", ".join(
            f"{item.lactate_mmol_l:g}" + (f" ({clock(item.minute)})" if item.minute is not None else "")
            for item in step.samples
        )
        rows.append((step_name(test, number), samples, *_point(zone_set, number)))
    head = ("step", "samples, mmol/L (minute)", "value", "± analyser", "curve", "highest heart rate")
    return Table("The numbers behind the curve", head, tuple(rows), words=2)


def load_height(plan: TestPlan) -> str:
    """Step height with its unit."""
    return f"{plan.step_height:g} {plan.load_unit}"


def _point(zone_set: ZoneSet, number: int) -> tuple[str, str, str, str]:
    point = zone_set.curve[number]
    return (
        number_text(point.lactate, digits=2),
        number_text(point.sd, digits=2),
        number_text(point.fitted, digits=2),
        number_text(point.hr_max, "bpm"),
    )


def _history_row(zone_set: ZoneSet) -> tuple[str, ...]:
    test, loads = zone_set.test, Loads(zone_set.test.load_unit)
    if not zone_set.usable:
        return (date_text(test.date), "not usable", *[DASH] * 5, test.analyser or DASH)
    ranges = {name: loads.range(span.low, span.high) for name, span in zone_set.ranges.items()}
    edges = zone_set.edges
    return (
        date_text(test.date) + (" (overridden)" if test.override else ""),
        loads.text(edges.floor),
        ranges["floor"],
        loads.text(edges.target_top),
        loads.text(edges.ceiling) if edges.ceiling is not None else f"at least {loads.text(edges.ceiling_at_least)}",
        ranges["ceiling"],
        number_text(zone_set.hr.ceiling, "bpm"),
        test.analyser or DASH,
    )


def _meter_row(comparison: MeterComparison, part: list[int]) -> tuple[str, ...]:
    a, b = comparison.means_a[part], comparison.means_b[part]
    differences = sorted((b - a).tolist())
    middle = differences[len(differences) // 2]
    return (
        number_text(float(a.min()), "W"),
        number_text(float(a.max()), "W"),
        signed_text(middle, "W", 1),
        str(len(part)),
    )


def _fifths(order: list[int]) -> list[list[int]]:
    cuts = [round(len(order) * part / 5) for part in range(6)]
    return [order[low:high] for low, high in pairwise(cuts)]


def _facts(zone_set: ZoneSet) -> str:
    test = zone_set.test
    mass = f", {test.mass_kg:g} kg" if test.mass_kg else ""
    named = [
        f"{what}: {name}"
        for what, name in (("analyser", test.analyser), ("meter", test.meter), ("position", test.position))
        if name
    ]
    recording = [f"recording: {test.recording}"] if test.recording else []
    steps = f"{counted(len(test.steps), 'step')} of {test.step_minutes:g} minutes, {test.state}{mass}"
    return "; ".join([f"{test.file}: {steps}", *named, *recording])


def _pace(plan: TestPlan, load_si: float) -> str:
    return load_text(load_si, pace_unit()).removesuffix(f" {pace_unit()}") if plan.load_unit == "km/h" else ""


def _expected(step: object) -> str:
    gait = "walk, " if getattr(step, "gait", "run") == "walk" else ""
    return f"{gait}easy" if getattr(step, "easy", False) else f"{gait}rise"


def _render(template: str, plots: list[Plot], beside: Beside, **values: object) -> str:
    return pages.render_page(template, pages.Carried(plots), values, beside)


def _sheets() -> Environment:
    return pages.environment()


def _sheet_assets() -> dict[str, object]:
    return {
        "style": Markup(pages.template_text("sheet.css")),
        "colours": {"light": palette.LIGHT, "dark": palette.DARK},
        "policy": policies([])[0],
        "version": version(),
    }
