"""Writes hostile inputs, the same bytes every time: `python make_hostile.py FOLDER` puts each into a folder of its own.

Each has its expected outcome beside it: a pattern that what the command says must fit, and the exit status. A number of
them are known attacks (named in their text); the others were made up to hit one place of the readers each. Nothing in
here comes from a person or a device.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from hostile_athletes import ATHLETES
from hostile_base import Hostile
from hostile_fit import FITS
from hostile_gpx import GPXS
from hostile_packed import PACKED
from hostile_places import PLACES
from hostile_tests import STEP_TESTS
from hostile_texts import TEXTS

CORPUS: tuple[Hostile, ...] = (*GPXS, *FITS, *PACKED, *STEP_TESTS, *ATHLETES, *PLACES, *TEXTS)


def write_all(folder: Path) -> Iterator[Hostile]:
    """Every input into a folder of its own name, with expected.json beside it; those that need another system are left out."""
    for item in CORPUS:
        if item.possible():
            home = folder / item.name
            home.mkdir(parents=True)
            item.write(home)
            told = {"command": item.command, "said": item.said, "status": item.status}
            (folder / f"{item.name}.expected.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
            yield item


if __name__ == "__main__":
    written = list(write_all(Path(sys.argv[1])))
    sys.stdout.write(f"{len(written)} hostile inputs\n")
