"""Files in, one-second rows out."""

from steadyband.recording.grid import to_rows
from steadyband.recording.model import CHANNELS, Recording, Rows, SessionRecords
from steadyband.recording.registry import read

__all__ = ["CHANNELS", "Recording", "Rows", "SessionRecords", "read", "to_rows"]
