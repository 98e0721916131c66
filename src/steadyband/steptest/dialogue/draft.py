"""A step test while it is being entered: events in, a draft out. Nothing here reads a clock or a file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, cast

from steadyband.ground.settings import StepTestSettings
from steadyband.ground.units import LoadUnit, load_to_si, typed_load_text
from steadyband.steptest.dialogue.plan import SAMPLE_MINUTES, SPARE_MINUTES, scaled_minutes
from steadyband.steptest.model import AnalyserSd, Gait


@dataclass(frozen=True, slots=True)
class Event:
    """One entry: what kind, when (Unix seconds), and its values as JSON has them.

    Kinds: set (key, value, asked), baseline (lactate, instead), override (reason), step (load, started_s, gait, incline),
    sample (lactate, minute, step), hr (bpm, step), load (load, step), gait (gait, step), note (text, step), drop (step),
    drop_sample (lactate, step), reopen (a finished test, see `reopening`), undo, back, finish. Steps are numbered from 1.
    """

    kind: str
    at_s: float
    data: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DraftSample:
    """One sample: minute within the step (None where a file that was opened again does not tell it), mmol/L."""

    minute: float | None
    lactate: float


@dataclass(frozen=True, slots=True)
class DraftStep:
    """One step as entered so far; `load` in the test's unit, `started_s` in Unix seconds, `start_s` as a file that was
    opened again has it: seconds into the test's own recording."""

    load: float
    started_s: float
    gait: Gait = "run"
    incline: float = 0.0
    samples: tuple[DraftSample, ...] = ()
    hr_max: float | None = None
    note: str = ""
    start_s: float | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """Everything entered so far."""

    answers: Mapping[str, Any] = field(default_factory=dict)
    baseline: tuple[float, ...] = ()
    steps: tuple[DraftStep, ...] = ()
    override: str | None = None
    finished: bool = False

    @property
    def sport(self) -> str:
        """cycling or running."""
        return str(self.answers["sport"])

    @property
    def unit(self) -> LoadUnit:
        """Unit of the loads: always W by bike."""
        return unit_of(self.answers)

    @property
    def step_minutes(self) -> float:
        """Length of a step [min]."""
        return float(self.answers["step_minutes"])

    @property
    def live(self) -> bool:
        """True while the test is being done, False where it is typed from paper afterwards."""
        return bool(self.answers.get("live", True))

    @property
    def sample_minutes(self) -> tuple[float, ...]:
        """Minutes of a step at which samples are due."""
        return scaled_minutes(SAMPLE_MINUTES, self.step_minutes)

    @property
    def spare_minutes(self) -> tuple[float, ...]:
        """Minutes of a step at which a spoilt sample can be taken again."""
        return scaled_minutes(SPARE_MINUTES, self.step_minutes)

    def load_text(self, load: float) -> str:
        """A load of this test for people."""
        return typed_load_text(load_to_si(load, self.unit), self.unit)

    def step_name(self, number: int) -> str:
        """ "step 3 (115 W)" or "step 1 (6.0 km/h, walking)"."""
        step = self.steps[number - 1]
        walking = ", walking" if self.sport != "cycling" and step.gait == "walk" else ""
        return f"step {number} ({self.load_text(step.load)}{walking})"


def unit_of(answers: Mapping[str, Any]) -> LoadUnit:
    """Unit of the loads by what has been answered: W by bike, the one chosen by foot."""
    return "W" if answers.get("sport") == "cycling" else cast(LoadUnit, answers["load_unit"])


def replay(events: Iterable[Event]) -> Draft:
    """The draft after all events: an undo takes back the last entry that is not a setting, a back the last answer."""
    draft = Draft()
    for event in effective(events):
        draft = apply(draft, event)
    return draft


def effective(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events that still count after every undo and back."""
    kept: list[Event] = []
    for event in events:
        if event.kind not in ("undo", "back"):
            kept.append(event)
            continue
        last = last_entry(kept) if event.kind == "undo" else last_answer(kept)
        if last is not None:
            kept = [item for item in kept if item is not last]
    return tuple(kept)


def last_entry(events: Iterable[Event]) -> Event | None:
    """The last event that an undo would take back."""
    entries = [event for event in events if event.kind not in ("set", "undo", "back", "reopen")]
    return entries[-1] if entries else None


def last_answer(events: Iterable[Event]) -> Event | None:
    """The last answer to a question, which a back would take back."""
    answers = [event for event in events if event.kind == "set" and event.data.get("asked")]
    return answers[-1] if answers else None


def apply(draft: Draft, event: Event) -> Draft:
    """The draft with one more event; the event has been checked when it was made."""
    data = event.data
    match event.kind:
        case "set":
            return replace(draft, answers={**draft.answers, data["key"]: data["value"]})
        case "baseline":
            before = draft.baseline[:-1] if data.get("instead") else draft.baseline
            return replace(draft, baseline=(*before, float(data["lactate"])))
        case "reopen":
            return reopened(data)
        case "override":
            return replace(draft, override=str(data["reason"]))
        case "step":
            step = DraftStep(float(data["load"]), float(data["started_s"]), data["gait"], float(data["incline"]))
            return replace(draft, steps=(*draft.steps, step))
        case "drop":
            number = int(data["step"])
            return replace(draft, steps=draft.steps[: number - 1] + draft.steps[number:])
        case "finish":
            return replace(draft, finished=True)
    return _with_step(draft, event)


def _with_step(draft: Draft, event: Event) -> Draft:
    at = int(event.data["step"]) - 1
    step = _changed(draft.steps[at], event)
    return replace(draft, steps=(*draft.steps[:at], step, *draft.steps[at + 1 :]))


def _changed(step: DraftStep, event: Event) -> DraftStep:
    data = event.data
    match event.kind:
        case "sample":
            sample = DraftSample(float(data["minute"]), float(data["lactate"]))
            return replace(step, samples=_in_order((*step.samples, sample)))
        case "drop_sample":
            left = list(step.samples)
            left.remove(next(item for item in left if item.lactate == float(data["lactate"])))
            return replace(step, samples=tuple(left))
        case "hr":
            return replace(step, hr_max=float(data["bpm"]))
        case "load":
            return replace(step, load=float(data["load"]))
        case "gait":
            return replace(step, gait=data["gait"])
        case "note":
            return replace(step, note="; ".join(part for part in (step.note, str(data["text"])) if part))
    raise ValueError(f"no such entry: {event.kind!r}")


def _in_order(samples: Iterable[DraftSample]) -> tuple[DraftSample, ...]:
    return tuple(sorted(samples, key=lambda item: item.minute or 0.0))


def reopened(data: Mapping[str, Any]) -> Draft:
    """The draft of a finished test that is opened again."""
    steps = tuple(
        DraftStep(
            load=float(step["load"]),
            started_s=0.0,
            gait=step["gait"],
            incline=float(step["incline"]),
            samples=tuple(DraftSample(minute, float(lactate)) for minute, lactate in step["samples"]),
            hr_max=step["hr_max"],
            note=str(step["note"]),
            start_s=step["start_s"],
        )
        for step in data["steps"]
    )
    return Draft(dict(data["answers"]), tuple(map(float, data["baseline"])), steps, data["override"])


def counted(step: DraftStep, step_minutes: float) -> tuple[float, ...]:
    """The readings that make a step's lactate: those of its second half, with none there the last one (METHOD 1.1)."""
    late = [item.lactate for item in step.samples if item.minute is None or item.minute >= step_minutes / 2]
    return tuple(late or [item.lactate for item in step.samples[-1:]])


def analyser_of(draft: Draft, settings: StepTestSettings) -> AnalyserSd:
    """The analyser's scatter that the advice works with: the test's own where it is known, else that of the settings."""
    own = draft.answers.get("analyser_sd")
    if own is None:
        return AnalyserSd(settings.sd_floor, settings.sd_fraction)
    return AnalyserSd(float(own["floor"]), float(own["fraction"]))
