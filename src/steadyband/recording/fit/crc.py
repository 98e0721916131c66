"""CRC-16 of a FIT file, whole blocks of data at once."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint16]

POLYNOMIAL = 0xA001
"""CRC-16/ARC, bits reflected, start value 0 (SOURCES S9)."""

PERIOD = 32767
"""Bytes after which the CRC repeats: x**16 + x**15 + x**2 + 1 = (x + 1)(x**15 + x + 1), and the second factor is
primitive, so x**32767 = 1 modulo it (worked by hand; a test tries it)."""


def crc16(data: bytes | memoryview) -> int:
    """CRC-16 of the bytes as FIT defines it (SOURCES S9).

    The CRC is linear over GF(2). Bytes that stand a whole number of periods apart add the same to it, so the data are
    first folded into one period by exclusive or. A 16-bit word that stands n words before another adds what the word
    `_shifted(n)[word]` in that other's place adds: the first half is folded on to the second until one word is left.
    """
    words = _one_period(np.frombuffer(data, dtype=np.uint8)).view("<u2")
    half = len(words) // 2
    while half:
        words = words[half:] ^ _shifted(half)[words[:half]]
        half //= 2
    return int(_shifted(1)[words[0]])


def _one_period(octets: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The bytes folded on to the last period of them; zeros before them, which change nothing, fill up 2**n bytes."""
    head = len(octets) % PERIOD
    room = max(2, 1 << max(len(octets[:PERIOD]) - 1, 0).bit_length())
    folded = np.zeros(room, dtype=np.uint8)
    if len(octets) >= PERIOD:
        folded[-PERIOD:] = np.bitwise_xor.reduce(octets[head:].reshape(-1, PERIOD), axis=0)
    if head:
        folded[-head:] ^= octets[:head]
    return folded


@cache
def _shifted(words: int) -> Words:
    """The image of each 16-bit word under `words` (a power of two, at most 2**14) steps of 16 zero bits."""
    basis = [_step(1 << bit) for bit in range(16)]
    if words > 1:
        once = _shifted(words // 2)
        basis = [int(once[once[1 << bit]]) for bit in range(16)]
    table = np.zeros(1 << 16, dtype=np.uint16)
    for bit, image in enumerate(basis):
        np.bitwise_xor(table[: 1 << bit], image, out=table[1 << bit : 2 << bit])
    return table


def _step(word: int) -> int:
    for _ in range(16):
        word = (word >> 1) ^ (POLYNOMIAL if word & 1 else 0)
    return word
