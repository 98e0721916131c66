"""The athlete's own words as pages and terminal show them: always beside the verdict, named as the athlete's."""

from __future__ import annotations

from dataclasses import dataclass

from steadyband.athlete.own_words import NOTHING, OwnWords


@dataclass(frozen=True, slots=True)
class Told:
    """`felt` in a line, such as "effort as felt 7 of 10, slept 6.5 h, ill (cold)", and the note line by line; both may be empty."""

    felt: str = ""
    note: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.felt or self.note)


def told(words: OwnWords = NOTHING) -> Told:
    """What was told, for a page."""
    return Told(felt_text(words), tuple(words.note.splitlines()))


def felt_text(words: OwnWords) -> str:
    """Effort, sleep and illness in a line; empty where nothing was told.

    >>> felt_text(OwnWords(effort=7, sleep_h=6.5, illness="cold"))
    'effort as felt 7 of 10, slept 6.5 h, ill (cold)'
    """
    parts = [
        "" if words.effort is None else f"effort as felt {words.effort:g} of 10",
        "" if words.sleep_h is None else f"slept {words.sleep_h:g} h",
        f"ill ({words.illness})" if words.illness else "",
    ]
    return ", ".join(part for part in parts if part)


def told_lines(words: OwnWords) -> tuple[str, ...]:
    """The same for the terminal."""
    found = told(words)
    felt = (f"The athlete told: {found.felt}.",) if found.felt else ()
    return (*felt, *(f"Note: {line}" for line in found.note))
