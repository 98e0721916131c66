"""Files written whole or not at all."""

from __future__ import annotations

from steadyband.writing import write_bytes_atomically, write_text_atomically

__all__ = ["write_bytes_atomically", "write_text_atomically"]
