"""The potter's forms: how wide a pot is at each height, and what is added to it. Pure numbers, no drawing.

A form is given for a pot that fits a square of side 1. New forms join as the shelf fills, and never leave again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.games.kit.curve import through
from numpy.typing import NDArray

Points = tuple[tuple[float, float], ...]
Curve = tuple[float, float, float, float, float, float, float]  # three points of a bow and its thickness

SWING = 0.55  # how far effort off its target swells or narrows the wall, our choice: seen, and never ugly


@dataclass(frozen=True)
class Form:
    """`wall`: (height share, radius) from foot to lip; `from_count`: pots on the shelf before it may appear."""

    name: str
    height: float
    wall: Points
    from_count: int
    open_lip: bool = True
    bows: tuple[Curve, ...] = ()  # handles and spouts: x0 y0 x1 y1 x2 y2 thickness, y up from the foot


FORMS = (
    Form("bowl", 0.56, ((0, 0.17), (0.09, 0.17), (0.13, 0.16), (0.36, 0.35), (0.7, 0.46), (1, 0.5)), 0),
    Form("jar", 0.86, ((0, 0.2), (0.15, 0.27), (0.5, 0.4), (0.78, 0.32), (0.88, 0.22), (0.94, 0.22), (1, 0.26)), 0),
    Form(
        "cup",
        0.72,
        ((0, 0.22), (0.08, 0.26), (0.5, 0.31), (0.9, 0.29), (1, 0.31)),
        0,
        bows=((0.28, 0.56, 0.62, 0.6, 0.27, 0.16, 0.05),),
    ),
    Form("vase", 1.0, ((0, 0.16), (0.08, 0.17), (0.4, 0.33), (0.65, 0.26), (0.82, 0.12), (0.92, 0.11), (1, 0.18)), 0),
    Form("moon jar", 0.84, ((0, 0.17), (0.08, 0.2), (0.5, 0.44), (0.91, 0.22), (0.94, 0.2), (1, 0.22)), 12),
    Form(
        "jug",
        0.96,
        ((0, 0.2), (0.08, 0.22), (0.34, 0.34), (0.58, 0.28), (0.8, 0.16), (0.92, 0.17), (1, 0.22)),
        22,
        bows=((0.17, 0.84, 0.52, 0.86, 0.29, 0.36, 0.045),),
    ),
    Form(
        "bottle",
        1.0,
        ((0, 0.2), (0.06, 0.23), (0.24, 0.31), (0.42, 0.3), (0.6, 0.15), (0.7, 0.08), (0.94, 0.07), (1, 0.11)),
        36,
    ),
    Form(
        "lidded jar",
        0.92,
        (
            (0, 0.2),
            (0.1, 0.27),
            (0.38, 0.37),
            (0.62, 0.34),
            (0.64, 0.37),
            (0.7, 0.35),
            (0.82, 0.2),
            (0.87, 0.06),
            (0.93, 0.08),
            (0.98, 0.05),
            (1, 0.0),
        ),
        55,
        open_lip=False,
    ),
    Form(
        "amphora",
        1.0,
        ((0, 0.12), (0.05, 0.12), (0.09, 0.09), (0.42, 0.32), (0.64, 0.28), (0.8, 0.11), (0.94, 0.1), (1, 0.17)),
        80,
        bows=((0.1, 0.9, 0.46, 0.94, 0.28, 0.62, 0.036), (-0.1, 0.9, -0.46, 0.94, -0.28, 0.62, 0.036)),
    ),
    Form(
        "gourd",
        1.0,
        (
            (0, 0.2),
            (0.06, 0.24),
            (0.26, 0.36),
            (0.48, 0.2),
            (0.55, 0.17),
            (0.72, 0.24),
            (0.88, 0.12),
            (0.94, 0.08),
            (1, 0.11),
        ),
        110,
    ),
    Form(
        "goblet", 0.9, ((0, 0.22), (0.05, 0.2), (0.12, 0.07), (0.3, 0.05), (0.42, 0.12), (0.62, 0.27), (1, 0.29)), 150
    ),
    Form(
        "teapot",
        0.68,
        (
            (0, 0.2),
            (0.08, 0.24),
            (0.4, 0.35),
            (0.68, 0.27),
            (0.71, 0.28),
            (0.84, 0.16),
            (0.88, 0.05),
            (0.96, 0.07),
            (1, 0.0),
        ),
        200,
        open_lip=False,
        bows=((0.28, 0.46, 0.6, 0.62, 0.29, 0.14, 0.04), (-0.28, 0.2, -0.42, 0.28, -0.48, 0.52, 0.05)),
    ),
)


def unlocked(count: int) -> tuple[Form, ...]:
    """The forms that a shelf of so many pots allows."""
    return tuple(form for form in FORMS if count >= form.from_count)


def wall_of(form: Form, profile: NDArray[np.float64], target: float, rows: int) -> NDArray[np.float64]:
    """Radius (rows,) from foot to lip: the form, swollen where effort lay above its target, narrower below.

    profile: effort over the rep in the unit of target; empty leaves the form as it is.
    """
    heights, radii = zip(*form.wall, strict=True)
    share = np.linspace(0.0, 1.0, rows)
    wall = through(heights, radii, share)
    if profile.size >= 4 and target > 0:
        rings = _deviation(profile, target)
        wall = wall * (1.0 + SWING * through(np.linspace(0.0, 1.0, rings.size), rings, share))
    return np.clip(wall, 0.0, 0.5)


def _deviation(profile: NDArray[np.float64], target: float) -> NDArray[np.float64]:
    """Effort off target (-0.5..0.5) over the part of the rep that was a hold: the rise and the
    letting go are left out."""
    up = np.flatnonzero(profile >= 0.6 * target)
    held = profile[up[0] : up[-1] + 1] if up.size >= 4 else profile
    off = np.clip(held / target - 1.0, -0.5, 0.5)
    at = np.linspace(0, held.size - 1, 9)  # nine rings of clay: a wall has no finer wobble than fingers give it
    return np.interp(at, np.arange(held.size), off)
