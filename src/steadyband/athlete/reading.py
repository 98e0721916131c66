"""What is made for one athlete is written as that athlete reads: units and clock of athlete.toml."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, Protocol, TypeVar

from steadyband.athlete.model import Athlete
from steadyband.ground.reader import written_for

Rest = ParamSpec("Rest")
Made = TypeVar("Made")


class Athletes(Protocol):
    """Anything that belongs to one athlete: the folder, a review, the season."""

    @property
    def athlete(self) -> Athlete:
        """Whose it is."""


Whose = TypeVar("Whose", bound=Athletes)


def as_the_athlete_reads(make: Callable[Concatenate[Whose, Rest], Made]) -> Callable[Concatenate[Whose, Rest], Made]:
    """Decorates a function whose first argument belongs to an athlete: its texts follow that athlete's units and clock."""

    @wraps(make)
    def made(whose: Whose, /, *args: Rest.args, **kwargs: Rest.kwargs) -> Made:
        with written_for(whose.athlete.reader):
            return make(whose, *args, **kwargs)

    return made
