"""What the installed distributions say about themselves: what they require on which system, and their licences."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

SYSTEMS = (
    {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"},
    {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix"},
    {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt"},
)
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
HERE = {name: str(value) for name, value in default_environment().items()}
EVERYWHERE = [
    HERE | system | {"python_version": python, "python_full_version": f"{python}.0"}
    for system, python in itertools.product(SYSTEMS, PYTHONS)
]

NAMED = {
    "apache-2.0": "Apache-2.0",
    "apache 2.0": "Apache-2.0",
    "apache license, version 2.0": "Apache-2.0",
    "apache software license": "Apache-2.0",
    "bsd": "BSD",
    "bsd license": "BSD",
    "bsd-2-clause": "BSD-2-Clause",
    "bsd-3-clause": "BSD-3-Clause",
    "gnu general public license (gpl)": "GPL",
    "gnu library or lesser general public license (lgpl)": "LGPL",
    "isc license": "ISC",
    "isc license (iscl)": "ISC",
    "mit": "MIT",
    "mit license": "MIT",
    "mozilla public license 2.0 (mpl 2.0)": "MPL-2.0",
    "mpl-2.0": "MPL-2.0",
    "psfl": "PSF-2.0",
    "public domain": "public domain",
    "python software foundation license": "PSF-2.0",
}
"""Names that distributions give their licence in free text or as a classifier, and what they are called here."""


def key(name: str) -> str:
    """The name of a package as indexes compare it."""
    return str(canonicalize_name(name))


def find(name: str) -> Distribution | None:
    """An installed distribution, or None."""
    try:
        return distribution(name)
    except PackageNotFoundError:
        return None


def closure(requirement: str, environments: Iterable[dict[str, str]] = (HERE,)) -> set[str]:
    """Every package that a requirement brings along in one of the environments, itself included.

    What a package that is not installed would bring is not known and left out.
    """
    todo, seen = [requirement], set()
    while todo:
        wanted = Requirement(todo.pop())
        state = (key(wanted.name), frozenset(wanted.extras))
        if state not in seen:
            seen.add(state)
            todo += _required(*state, tuple(frozenset(it.items()) for it in environments))
    return {name for name, _ in seen}


@cache
def _required(name: str, extras: frozenset[str], environments: tuple[frozenset[tuple[str, str]], ...]) -> list[str]:
    found = find(name)
    lines = [Requirement(line) for line in (found.requires or [])] if found else []
    return [str(line) for line in lines if _applies(line, extras, environments)]


def _applies(line: Requirement, extras: frozenset[str], environments: tuple[frozenset[tuple[str, str]], ...]) -> bool:
    if line.marker is None:
        return True
    return any(
        line.marker.evaluate(dict(environment) | {"extra": extra})
        for environment in environments
        for extra in (extras or {""})
    )


def licence(found: Distribution) -> str:
    """The licence by its expression; else by its free text, its classifiers or its licence file, in the words of NAMED.

    Where these say no more than BSD, the text of the licence file tells how many clauses it has.
    Raises LookupError where none of them says.
    """
    for said in (found.metadata.get("License-Expression"), *_named(found)):
        if said:
            return _clauses(found) if said == "BSD" else str(said)
    raise LookupError(f"{found.metadata['Name']}: no licence in its metadata or licence file.")


def _named(found: Distribution) -> Iterator[str | None]:
    yield NAMED.get((found.metadata.get("License") or "").strip().lower())
    classifiers = (
        item.rpartition(" :: ")[2] for item in found.metadata.get_all("Classifier") or [] if "License" in item
    )
    yield " / ".join(sorted(NAMED[item.lower()] for item in classifiers if item != "OSI Approved"))
    yield from (NAMED.get(text.strip().splitlines()[0].strip().lower()) for text in _texts(found))


def _clauses(found: Distribution) -> str:
    """By the text of the licences at opensource.org: both ask redistributions to keep the notice; only one begins a clause
    with 'Neither the name'."""
    for text in _texts(found):
        words = " ".join(text.lower().split())
        if "redistributions of source code" in words:
            return "BSD-3-Clause" if "neither the name" in words else "BSD-2-Clause"
    return "BSD"


def _texts(found: Distribution) -> Iterator[str]:
    for file in found.files or []:
        if re.match(r"LICEN[CS]E", file.name, re.IGNORECASE) and ".dist-info" in str(file):
            yield found.locate_file(file).read_text(encoding="utf-8")  # type: ignore[attr-defined]
