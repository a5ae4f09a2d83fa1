"""Glazes and brushwork, as colours over the unrolled wall of a pot. Pure numbers, no drawing.

`around` is the angle on the wall (0 faces the viewer, radians), `up` the height share 0..1; both are arrays of one
shape. Steadiness draws the glaze: a steady hold gives a clear coat and even bands, an unsteady one runs, speckles and
wanders. Neither is the lesser pot.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float64]
Rgb = tuple[int, int, int]


@dataclass(frozen=True)
class Glaze:
    """Main coat, second dip, brush colour; `from_count`: pots on the shelf before it may appear."""

    name: str
    coat: Rgb
    dip: Rgb
    brush: Rgb
    from_count: int


GLAZES = (
    Glaze("honey", (214, 148, 62), (120, 66, 36), (251, 239, 210), 0),
    Glaze("celadon", (148, 190, 168), (92, 146, 134), (36, 78, 84), 0),
    Glaze("chalk", (238, 226, 202), (86, 180, 233), (0, 98, 160), 0),
    Glaze("iron", (108, 48, 40), (196, 96, 48), (247, 206, 130), 0),
    Glaze("cobalt", (30, 92, 160), (20, 44, 104), (240, 228, 180), 6),
    Glaze("moss", (104, 130, 70), (196, 176, 92), (44, 62, 44), 14),
    Glaze("plum", (122, 70, 112), (204, 121, 167), (250, 226, 214), 24),
    Glaze("copper", (0, 146, 118), (0, 88, 92), (240, 196, 110), 45),
    Glaze("ash", (178, 170, 160), (98, 96, 112), (213, 94, 0), 65),
    Glaze("night", (38, 40, 82), (86, 84, 150), (255, 226, 150), 90),
    Glaze("persimmon", (213, 94, 28), (112, 36, 30), (255, 226, 176), 125),
    Glaze("snow", (244, 240, 234), (204, 190, 214), (128, 70, 120), 165),
    Glaze("lake", (76, 146, 190), (222, 232, 224), (24, 60, 104), 210),
)
CLAY: Rgb = (186, 116, 82)
RAW: Rgb = (168, 132, 118)


def unlocked(count: int) -> tuple[Glaze, ...]:
    """The glazes that a shelf of so many pots allows."""
    return tuple(glaze for glaze in GLAZES if count >= glaze.from_count)


def runs(random: np.random.Generator, around: Field, evenness: float) -> Field:
    """How far (height share) a glaze has run below its line at each angle: rounded drops, more of them when uneven."""
    run = 0.012 * np.sin(around * random.uniform(2, 4) + random.uniform(0, 6))
    for _ in range(3 + round(9 * (1 - evenness))):
        middle, width = random.uniform(-1.6, 1.6), random.uniform(0.07, 0.16)
        length = random.uniform(0.02, 0.05) + (1 - evenness) * random.uniform(0.04, 0.24)
        run = np.maximum(run, length * np.sqrt(np.clip(1 - ((around - middle) / width) ** 2, 0, 1)))
    return run


def speckles(random: np.random.Generator, around: Field, up: Field, share: float) -> NDArray[np.bool_]:
    """Round iron spots; `share` 0..1 is how many."""
    spots = np.zeros(around.shape, dtype=bool)
    for _ in range(round(46 * share)):
        middle, height, size = random.uniform(-1.5, 1.5), random.uniform(0.05, 0.97), random.uniform(0.008, 0.022)
        spots |= (0.34 * (around - middle)) ** 2 + (up - height) ** 2 < size**2
    return spots


# --- brushwork: each says where the brush touched, in `up` measured from the middle of the band of half-width `half`
# ---
def line(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    return (np.abs(up - half * 0.62) < half * 0.2) | (np.abs(up + half * 0.62) < half * 0.2)


def wave(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    return np.abs(up - half * 0.6 * np.sin(count * around)) < half * 0.3


def dots(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    pitch = np.pi / count
    across = (np.mod(around, pitch) - pitch / 2) * 0.34
    return across**2 + up**2 < (half * 0.62) ** 2


def leaves(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    pitch = np.pi / count
    along = (np.mod(around + 0.5 * up / half * pitch * 0.5, pitch) / pitch) * 2 - 1
    blade = np.abs(up) < half * 0.85 * np.clip(1 - along**2, 0, 1) * (0.55 + 0.45 * along)
    return blade & (np.abs(up) > half * 0.09)


def peaks(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    saw = 2 * np.abs(2 * (around * count / np.pi / 2 - np.floor(around * count / np.pi / 2 + 0.5))) - 1
    return np.abs(up - half * 0.62 * saw) < half * 0.28


def combing(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    lifted = up - half * 0.3 * np.sin(count * 0.7 * around)
    return (np.abs(np.mod(lifted / half * 2.0, 1.0) - 0.5) < 0.2) & (np.abs(lifted) < half)


def petals(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    pitch = np.pi / count
    across = (np.mod(around, pitch) / pitch) * 2 - 1
    rim = half * (1.6 * np.sqrt(np.clip(1 - across**2, 0, 1)) - 0.8)
    return (up < rim) & (up > rim - half * 0.55)


def reeds(around: Field, up: Field, half: float, count: int) -> NDArray[np.bool_]:
    pitch = np.pi / (count * 2)
    across = (np.mod(around + 0.14 * (up / half) ** 2, pitch) / pitch) * 2 - 1
    return (np.abs(across) < 0.34 * np.clip(1 - (up / half), 0, 1) ** 0.6) & (np.abs(up) < half)


BRUSHWORK: tuple[tuple[Callable[[Field, Field, float, int], NDArray[np.bool_]], float, int], ...] = (
    # brush, half-width of its band, pots on the shelf before it may appear
    (line, 0.05, 0),
    (dots, 0.045, 0),
    (wave, 0.05, 0),
    (combing, 0.09, 8),
    (peaks, 0.06, 16),
    (leaves, 0.075, 28),
    (petals, 0.08, 50),
    (reeds, 0.13, 75),
)
