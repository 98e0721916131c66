"""The columnar reader gives what fitdecode gives, down to the last bit, on every FIT file there is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from conftest import DEMO, recording_files
from steadyband.recording.fit import frames as fit_frames

REAL = [path for kind in ("fit", "fit_damaged", "fit_other") for path in recording_files(kind)]
FILES = [*REAL, *sorted((DEMO / "activities").rglob("*.fit"))]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_columns_and_fitdecode_give_the_same_stream(path: Path) -> None:
    """Reference library: fitdecode 0.11.0, FitReader(data, processor=None), through `by_fitdecode`. None of these falls back."""
    data = path.read_bytes()
    ours, reference = fit_frames.by_columns(data), fit_frames.by_fitdecode(data)
    assert ours.damage == reference.damage
    for part, other in zip(ours.parts, reference.parts, strict=True):
        assert dict(part.file_id) == dict(other.file_id)
        assert (len(part.records), part.heart_beats) == (len(other.records), other.heart_beats)
        assert set(part.records.columns) == set(other.records.columns)
        for name in other.records.columns:
            assert np.array_equal(part.records.column(name), other.records.column(name), equal_nan=True), name
        for name, messages in other.messages.items():
            assert [dict(message) for message in part.messages[name]] == [dict(message) for message in messages], name


def test_what_columns_do_not_cover_is_read_through_fitdecode_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    path = next((DEMO / "activities").rglob("*loose-legs.fit"))
    plain = fit_frames.read_stream(path.read_bytes())

    def refuse(data: bytes) -> None:
        raise fit_frames.NotCovered("a made-up reason")

    monkeypatch.setattr(fit_frames, "read_columns", refuse)
    fallen = fit_frames.read_stream(path.read_bytes())
    assert (plain.fallback, fallen.fallback) == (None, "a made-up reason")
    assert np.array_equal(
        plain.parts[0].records.column("power"), fallen.parts[0].records.column("power"), equal_nan=True
    )
