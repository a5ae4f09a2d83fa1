"""Dyes and lays of rope, and from which rope on each may appear. Pure numbers, no drawing."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import lru_cache

Rgb = tuple[int, int, int]
HEMP: Rgb = (214, 184, 134)


@dataclass(frozen=True)
class Lay:
    """How a rope is laid: the colour of each strand, how steep the strands run, and the knot that finishes it."""

    strands: tuple[Rgb, Rgb, Rgb]
    steep: float
    finish: str


DYES: tuple[tuple[Rgb, int], ...] = (
    ((0, 114, 178), 0),
    ((213, 94, 0), 0),
    ((0, 158, 115), 2),
    ((230, 159, 0), 5),
    ((120, 60, 110), 9),
    ((86, 180, 233), 14),
    ((204, 121, 167), 20),
    ((250, 240, 214), 28),
    ((58, 48, 92), 40),
    ((240, 228, 66), 60),
)
FINISHES: tuple[tuple[str, int], ...] = (
    ("whipped", 0),
    ("looped", 1),
    ("tassel", 6),
    ("rosette", 16),
    ("braided", 32),
    ("beaded", 56),
)


@lru_cache(maxsize=1024)
def lay_of(place: int) -> Lay:
    """The lay of rope number `place` (0 is the first). What has just come within reach is used at once."""
    chance = random.Random(6151 * (place + 1))
    dyes = [dye for dye, since in DYES if place >= since]
    fresh = [dye for dye, since in DYES if since == place and place]
    first = fresh[0] if fresh else chance.choice(dyes)
    second = chance.choice([dye for dye in (*dyes, HEMP) if dye != first])
    strands = (HEMP, first, HEMP) if chance.random() < 0.4 else (HEMP, first, second)
    finishes = [name for name, since in FINISHES if place >= since]
    new = [name for name, since in FINISHES if since == place and place]
    return Lay(strands, chance.uniform(0.8, 1.25), new[0] if new else chance.choice(finishes))
