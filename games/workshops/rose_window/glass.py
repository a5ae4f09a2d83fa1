"""Glass of the rose window: which colours are set how, and from which window on. Pure numbers, no drawing."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import lru_cache

Rgb = tuple[int, int, int]
REACH = 1.35  # the rim of the wheel, as a multiple of the target
HUB = 0.2  # radius of the hub, as a share of the wheel's


@dataclass(frozen=True)
class Melt:
    """Four colours of glass that were melted for one another, from the hub outwards."""

    name: str
    glass: tuple[Rgb, Rgb, Rgb, Rgb]
    since: int


MELTS = (
    Melt("dusk", ((250, 214, 120), (230, 120, 60), (190, 60, 90), (84, 60, 150)), 0),
    Melt("lake", ((240, 244, 200), (120, 210, 200), (40, 140, 190), (20, 70, 140)), 0),
    Melt("meadow", ((252, 240, 150), (150, 200, 90), (40, 150, 110), (20, 90, 100)), 1),
    Melt("rowan", ((255, 226, 170), (240, 150, 60), (214, 84, 40), (130, 36, 50)), 5),
    Melt("heather", ((250, 226, 240), (220, 140, 190), (150, 90, 170), (76, 56, 130)), 10),
    Melt("frost", ((250, 250, 246), (190, 220, 240), (120, 160, 220), (70, 90, 170)), 18),
    Melt("honey", ((255, 244, 200), (250, 206, 90), (224, 150, 40), (140, 84, 40)), 28),
    Melt("kingfisher", ((255, 206, 120), (240, 120, 50), (30, 160, 180), (16, 60, 120)), 42),
    Melt("orchard", ((255, 240, 220), (240, 150, 140), (120, 170, 80), (60, 100, 70)), 62),
    Melt("aurora", ((220, 250, 210), (90, 210, 160), (80, 110, 200), (120, 60, 160)), 90),
)
TRACERIES: tuple[tuple[str, int], ...] = (
    ("rays", 0),
    ("tiles", 0),
    ("scales", 3),
    ("rings", 8),
    ("lattice", 15),
    ("drops", 34),
)
FOLDS: tuple[tuple[int, int], ...] = ((4, 0), (3, 0), (5, 2), (6, 7), (8, 20), (7, 36))


@dataclass(frozen=True)
class Design:
    """One window: its glass, how the panes are cut, and how often the effort is repeated round the finished rose."""

    melt: Melt
    tracery: str
    folds: int


@lru_cache(maxsize=1024)
def design_of(place: int) -> Design:
    """The design of window number `place` (0 is the first). What has just come within reach is used at once."""
    chance = random.Random(2887 * (place + 1))
    melts = [melt for melt in MELTS if place >= melt.since]
    fresh = [melt for melt in melts if melt.since == place and place]
    melt = fresh[0] if fresh else melts[(place + place // len(melts)) % len(melts)]
    tracery = chance.choice([name for name, since in TRACERIES if place >= since])
    return Design(melt, tracery, chance.choice([count for count, since in FOLDS if place >= since]))
