"""Random FIT streams, whole and damaged: the columnar reader gives what fitdecode gives, or says what it leaves to it."""

from __future__ import annotations

import time
import warnings
from random import Random

from columns_oracle import by_columns, by_fitdecode, text_of
from fit_random import mutated, random_stream
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.recording.not_covered import NotCovered

LONGEST_S = 2.0
"""No case may take longer (the requirement; here in processor time, so that a busy machine does not fail it)."""

SEEDS = st.integers(0, 2**32 - 1)


def compared(data: bytes) -> bool:
    """True where both gave the same, False where the reader left the bytes to fitdecode; anything else fails."""
    began = time.process_time()
    try:
        found = text_of(by_columns(data))
    except NotCovered:
        found = None
    assert time.process_time() - began < LONGEST_S
    if found is not None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            assert found == text_of(by_fitdecode(data))
    return found is not None


@settings(max_examples=200, deadline=None)
@given(seed=SEEDS, steps=st.integers(1, 25))
def test_usual_streams_are_all_covered(seed: int, steps: int) -> None:
    """Both byte orders, arrays, developer fields, compressed times, local types used again, chained files."""
    assert compared(random_stream(Random(seed), odd=0.0, steps=steps))


@settings(max_examples=200, deadline=None)
@given(seed=SEEDS, steps=st.integers(1, 25))
def test_odd_streams_are_read_alike_or_left(seed: int, steps: int) -> None:
    """Also wrong base types, sizes that fit none, fields without descriptions, fields of no length."""
    compared(random_stream(Random(seed), odd=0.1, steps=steps))


@settings(max_examples=300, deadline=None)
@given(seed=SEEDS, steps=st.integers(1, 12))
def test_damaged_streams_are_read_alike_or_left(seed: int, steps: int) -> None:
    rng = Random(seed)
    compared(mutated(rng, random_stream(rng, odd=0.03, steps=steps)))


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_after_a_header(body: bytes) -> None:
    head = bytes([12, 16, 0, 0]) + len(body).to_bytes(4, "little") + b".FIT"
    compared(head + body)
