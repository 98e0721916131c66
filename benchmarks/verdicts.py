"""How often the verdicts are wrong: edges and warnings of step tests, findings on sessions, agreement. Prints; passes no judgement.

    python benchmarks/verdicts.py [--quick]

`verdict_edges.py`, `verdict_sessions.py` and `verdict_agreement.py` print single sections.
"""

from __future__ import annotations

import argparse

import verdict_agreement
import verdict_edges
import verdict_sessions


def main() -> None:
    """Everything, or a shorter version of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer trials of everything")
    quick = parser.parse_args().quick
    verdict_edges.run(40 if quick else 100, quick)
    for section, full, few in verdict_sessions.SECTIONS.values():
        section(7, few if quick else full)
    verdict_agreement.run(7, 60 if quick else 240)


if __name__ == "__main__":
    main()
