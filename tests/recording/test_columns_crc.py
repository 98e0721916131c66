"""The checksum of FIT files."""

from __future__ import annotations

import random

import pytest
from fitdecode.utils import compute_crc
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyband.recording.fit.crc import PERIOD, crc16


def test_check_value() -> None:
    # Published (SOURCES S9): "123456789" -> 0xBB3D.
    assert crc16(b"123456789") == 0xBB3D


def test_nothing_and_leading_zeros() -> None:
    # By hand: the start value is 0, so nothing gives 0, and zeros before the first other byte change nothing.
    assert crc16(b"") == 0
    assert crc16(bytes(70_000)) == 0
    assert crc16(bytes(1001) + b"123456789") == 0xBB3D


@settings(max_examples=150, deadline=None)
@given(st.binary(min_size=1, max_size=400))
def test_as_fitdecode(data: bytes) -> None:
    # Reference library fitdecode 0.11: fitdecode.utils.compute_crc(data).
    assert crc16(data) == compute_crc(data)


@pytest.mark.parametrize("size", [PERIOD - 1, PERIOD, PERIOD + 1, 32768, 2 * PERIOD, 2 * PERIOD + 3, 100_001])
def test_as_fitdecode_around_the_period(size: int) -> None:
    # Reference library fitdecode 0.11: fitdecode.utils.compute_crc(data), which goes byte by byte.
    data = random.Random(size).randbytes(size)
    assert crc16(data) == compute_crc(data)
    assert crc16(memoryview(data)[1:]) == compute_crc(data[1:])


@settings(max_examples=50, deadline=None)
@given(st.binary(min_size=1, max_size=200), st.integers(0, 1599))
def test_the_checksum_appended_gives_zero_and_one_wrong_bit_does_not(data: bytes, bit: int) -> None:
    # Fact of cyclic codes (common practice, no source): a message with its CRC behind it divides without a remainder.
    whole = bytearray(data + crc16(data).to_bytes(2, "little"))
    assert crc16(bytes(whole)) == 0
    whole[bit // 8 % len(whole)] ^= 1 << bit % 8
    assert crc16(bytes(whole)) != 0
