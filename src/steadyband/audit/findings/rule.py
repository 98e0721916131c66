"""What a finding is: a rule over N sets of edges at once, and its evidence by the edges as tested."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyband.audit.edges import EdgeSets
from steadyband.audit.findings.facts import Facts
from steadyband.audit.model import SessionInfo
from steadyband.ground.settings import Settings

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Rule:
    """One finding.

    `raised(facts, sets, settings)` tells for each of N sets of edges [N] whether it is raised; `evidence(facts)` gives the
    numbers of the edges as tested, and is asked only where those raise it. `uses` names its settings ("group.name"), `intents`
    the sessions it is looked for in, `place` orders the findings of one session. `labelled_only`: it says that a session was
    not what it was meant to be, so it is not looked for where nobody said what that was.
    """

    code: str
    place: int
    intents: tuple[str, ...]
    uses: tuple[str, ...]
    raised: Callable[[Facts, EdgeSets, Settings], BoolArray]
    evidence: Callable[[Facts], dict[str, Any]]
    labelled_only: bool = False

    def asked_of(self, info: SessionInfo) -> bool:
        """True where it is looked for in this session."""
        return info.intent in self.intents and (info.is_labelled or not self.labelled_only)

    def told(self, facts: Facts) -> dict[str, Any]:
        """The evidence, with the values of the settings used."""
        return {**self.evidence(facts), "settings": self.settings_used(facts.settings)}

    def settings_used(self, settings: Settings) -> Mapping[str, float]:
        """{"group.name": value} of the settings it uses."""
        pairs = (name.split(".") for name in self.uses)
        return {f"{group}.{key}": getattr(getattr(settings, group), key) for group, key in pairs}
