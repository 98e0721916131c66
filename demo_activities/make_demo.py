"""Writes the demo athlete folder, byte for byte the same every time: `python demo_activities/make_demo.py [FOLDER]`.

Without FOLDER it also packs the folder for `steadyband demo`. Everything is invented. Needs the test extra.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from simulation import packing, texts, truth  # noqa: E402
from simulation.build import build, step_hearts  # noqa: E402
from simulation.rides import RIDES  # noqa: E402
from simulation.runs import RUNS  # noqa: E402
from simulation.session import Session  # noqa: E402

PACKED = HERE.parent / "src" / "steadyband" / "athlete" / "demo.zip"
SESSIONS: tuple[Session, ...] = tuple(sorted((*RIDES, *RUNS), key=lambda session: session.start))


def hearts() -> dict[str, tuple[int, ...]]:
    """Highest heart rate [bpm] of each step of both tests, from their simulated recordings."""
    return {item.sport: step_hearts(item) for item in SESSIONS if item.intent == "test"}


def write_texts(folder: Path, found: dict[str, tuple[int, ...]]) -> None:
    """athlete.toml, tests/, sessions.csv and README.md."""
    pages = {
        "athlete.toml": texts.athlete_toml(),
        "README.md": texts.readme(),
        "sessions.csv": texts.sessions_csv(SESSIONS),
        f"tests/{texts.OLDER_TEST}": texts.older_test(),
        f"tests/{texts.BIKE_TEST}": texts.bike_test(found["cycling"]),
        f"tests/{texts.RUN_TEST}": texts.run_test(found["running"]),
    }
    for name, text in pages.items():
        write(folder / name, text.encode())


def write(path: Path, content: bytes) -> None:
    """Writes a file, and the folders above it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def write_all(folder: Path) -> None:
    """Writes everything into `folder` and names each file."""
    found = hearts()
    write_texts(folder, found)
    entries = []
    for session in SESSIONS:
        made = build(session, found)
        write(folder / "activities" / session.file, made.content)
        entries.append(made.truth)
        print(f"{session.file}: {len(made.content)} bytes, {', '.join(session.expected) or 'in band'}")
    truth_text = json.dumps(truth.whole(entries, found), indent=1, ensure_ascii=False)
    write(folder / "truth.json", (truth_text + "\n").encode())


def main(arguments: list[str]) -> None:
    """The folder named by `arguments`; without one the committed folder, and the demo inside the package with it."""
    if arguments:
        write_all(Path(arguments[0]))
        return
    write_all(HERE)
    fresh = packing.pack(packing.members(HERE), PACKED)
    print(f"{PACKED.name}: {PACKED.stat().st_size} bytes, {'written' if fresh else 'as before'}")


if __name__ == "__main__":
    main(sys.argv[1:])
