"""Where the pads lay last time, as distances from the place that is drawn or marked: so that they come to lie there
again.

Placing electrodes anew is the greatest part of what an EMG amplitude differs by from day to day (9 to 36 % within a
person, Norcross 2010). Only offered steps are kept: there is nowhere to write a word.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import TrustError

# Offered steps in mm; half a pad's width apart, and never further than a pad, where the mark itself should be asked
# about. Our choice.
STEPS_MM = (-10, -5, 0, 5, 10)
LARGEST_BYTES = 20_000


@dataclass(frozen=True)
class PadPlace:
    """Distances from the mark in mm: `up_mm` towards the head or the shoulder, `out_mm` away from the body's middle."""

    up_mm: int = 0
    out_mm: int = 0

    def __post_init__(self) -> None:
        if self.up_mm not in STEPS_MM or self.out_mm not in STEPS_MM:
            raise ValueError(f"a pad lies {STEPS_MM} mm from its mark, not {self.up_mm}, {self.out_mm}")


class PadPlaces:
    """One patient's places by muscle, in one file. A file that cannot be read counts as none: the mark still shows."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._places = _read(path)

    def of(self, muscle: str) -> PadPlace | None:
        """Where the pads of this muscle lay; None if that was never said."""
        return self._places.get(muscle)

    def keep(self, muscle: str, place: PadPlace) -> None:
        """Remember a place for the next day. Raises StorageError."""
        self._places = {**self._places, muscle: place}
        text = json.dumps({name: asdict(one) for name, one in sorted(self._places.items())}, indent=1)
        write_whole(self.path, f"{text}\n".encode())


def _read(path: Path) -> Mapping[str, PadPlace]:
    try:
        found = json.loads(read_bounded(path, LARGEST_BYTES))
        return {name: PadPlace(int(one["up_mm"]), int(one["out_mm"])) for name, one in found.items()}
    except (OSError, TrustError, ValueError, KeyError, TypeError, AttributeError):
        return {}
