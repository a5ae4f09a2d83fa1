"""Where the pads lay is kept for the next day: distances from the mark, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest
from musclewood.profiles.home.homes import Home
from musclewood.profiles.home.pads import STEPS_MM, PadPlace, PadPlaces


def test_the_same_place_is_known_the_next_day(tmp_path: Path) -> None:
    path = Home(tmp_path).pads_path("HB-0042")
    places = PadPlaces(path)
    assert places.of("vastus-medialis") is None
    places.keep("vastus-medialis", PadPlace(5, -10))
    assert PadPlaces(path).of("vastus-medialis") == PadPlace(5, -10)
    assert PadPlaces(path).of("rectus-femoris") is None
    assert path.is_relative_to(tmp_path)


@pytest.mark.parametrize(
    "text", ["", "[]", "{", '{"a": 3}', '{"a": {"up_mm": 7, "out_mm": 0}}', '{"a": {"up_mm": "x"}}']
)
def test_a_damaged_file_counts_as_none(tmp_path: Path, text: str) -> None:
    path = tmp_path / "pads.json"
    path.write_text(text, encoding="utf-8")
    places = PadPlaces(path)
    assert places.of("a") is None
    places.keep("a", PadPlace(0, 5))
    assert PadPlaces(path).of("a") == PadPlace(0, 5)


def test_only_offered_steps_exist() -> None:
    with pytest.raises(ValueError, match="mm from its mark"):
        PadPlace(3, 0)
    assert all(PadPlace(step, step) for step in STEPS_MM)
