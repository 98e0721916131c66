"""The words for a sport that mean the same everywhere: in options, questions, test files and tables."""

from __future__ import annotations

from collections.abc import Mapping

SPORT_WORDS: Mapping[str, str] = {
    "cycling": "cycling", "bike": "cycling", "by bike": "cycling", "bicycle": "cycling", "ride": "cycling",
    "running": "running", "foot": "running", "by foot": "running", "on foot": "running", "run": "running",
}  # fmt: skip
"""What may be typed, and the sport it means."""


def sport_named(text: str) -> str:
    """The sport that a word means; a word that means none of the two is given back in lower case.

    >>> sport_named("Bike"), sport_named("foot"), sport_named("rowing")
    ('cycling', 'running', 'rowing')
    """
    word = " ".join(text.split()).casefold()
    return SPORT_WORDS.get(word, word)
