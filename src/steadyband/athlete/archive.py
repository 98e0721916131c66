"""Many recordings at once: every core, one failure never stops the others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from steadyband.athlete.folder import AthleteFolder
from steadyband.athlete.model import Failure
from steadyband.athlete.sessions import in_time_order
from steadyband.athlete.work import outcomes
from steadyband.audit.model import Audit
from steadyband.recording.archives import list_sources


@dataclass(frozen=True, slots=True)
class Archive:
    """All audits in time order, and the files that could not be read."""

    audits: tuple[Audit, ...]
    failures: tuple[Failure, ...]


def audit_all(
    paths: Sequence[Path],
    folder: AthleteFolder,
    sport: str | None = None,
    done: Callable[[], None] = lambda: None,
) -> Archive:
    """Audits every file, and every recording in a zip archive; `done` is called once a recording.

    Each is audited as it is: copies are not left out, parts not joined, nothing is taken from a store or put into it.
    Faulty recordings become failures. Raises AthleteFileError where the athlete file does not fit the test.
    """
    listings = [list_sources(path) for path in paths]
    sources = [source for listing in listings for source in listing.sources]
    failures = [
        Failure(source.place, f"{fault.message} {fault.hint}")
        for listing in listings
        for source, fault in listing.refused
    ]
    audits: list[Audit] = []
    for batch in outcomes(sources, folder, sport):
        for outcome in batch:
            done()
            audits += [product.audit for product in outcome.products]
            if outcome.fault and not (outcome.fault.foreign and outcome.source.inside):
                failures.append(Failure(outcome.source.place, outcome.fault.message))
    return Archive(in_time_order(audits), tuple(sorted(failures, key=lambda item: item.file)))
