"""Yarns and motifs of the loom, and from which band on each may appear. Pure numbers, no drawing.

A band is a grid of cells: along it run the moments of a repetition, across it the rows from the fold outwards. The line
is the effort; below it lies the fill with its motif, beyond it the ground. A design says which colours and which motif.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FINE = 2  # threads to a cell, each way
ROWS = 22  # cells from the fold to the outer edge
REACH = 1.35  # the outer edge of the cloth, as a multiple of the target
GROUND, FILL, MOTIF, LINE, EDGE, SPOT = range(6)
Rgb = tuple[int, int, int]
Field = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Yarn:
    """Five dyed threads: ground, fill, motif, line, edge."""

    name: str
    ground: Rgb
    fill: Rgb
    motif: Rgb
    line: Rgb
    edge: Rgb
    from_count: int


YARNS = (
    Yarn("madder", (238, 222, 190), (178, 62, 46), (250, 226, 176), (40, 36, 66), (120, 40, 40), 0),
    Yarn("indigo", (240, 230, 206), (34, 84, 146), (168, 206, 232), (214, 110, 26), (24, 44, 92), 0),
    Yarn("weld", (96, 62, 44), (232, 176, 56), (120, 60, 30), (252, 242, 214), (66, 42, 36), 0),
    Yarn("walnut", (226, 206, 170), (112, 76, 54), (236, 196, 120), (0, 128, 104), (64, 44, 38), 6),
    Yarn("moss", (236, 228, 198), (86, 118, 62), (232, 214, 120), (112, 40, 56), (44, 66, 44), 14),
    Yarn("heather", (52, 46, 84), (184, 104, 152), (248, 214, 226), (250, 214, 120), (34, 30, 60), 24),
    Yarn("lake", (226, 234, 230), (30, 132, 140), (240, 226, 170), (16, 56, 88), (10, 74, 90), 40),
    Yarn("rowan", (44, 58, 66), (214, 84, 34), (250, 200, 110), (238, 232, 214), (28, 38, 48), 60),
    Yarn("snow", (150, 164, 190), (244, 240, 232), (92, 116, 160), (190, 60, 60), (70, 84, 122), 90),
    Yarn("night", (28, 32, 74), (92, 92, 168), (240, 228, 150), (250, 246, 226), (16, 18, 48), 130),
)

# Pick-up motifs, as they are noted for a weaver: one sign a cell.
STAR = (
    "....#....",
    ".#..#..#.",
    "..#.#.#..",
    "...###...",
    "#########",
    "...###...",
    "..#.#.#..",
    ".#..#..#.",
    "....#....",
)
TREE = (
    "....#....",
    "...###...",
    "..#####..",
    "....#....",
    "..#####..",
    ".#######.",
    "....#....",
    ".#######.",
    "....#....",
)
BIRD = (
    ".........",
    ".##......",
    "####...#.",
    ".###..##.",
    "..######.",
    "..#####..",
    "...###...",
    "...#.#...",
    "..##.##..",
)
DEER = (
    ".#...#...",
    ".##.##...",
    "...#.....",
    "..###....",
    "..#######",
    "...######",
    "...#...#.",
    "...#...#.",
    "...#...#.",
)
LEAF = (
    "....#....",
    "...#.#...",
    "..#.#.#..",
    ".#.###.#.",
    ".#.###.#.",
    "..#.#.#..",
    "...###...",
    "....#....",
    "....#....",
)
HOUSE = (
    "....#....",
    "...###...",
    "..#####..",
    ".#######.",
    "..#...#..",
    "..#.#.#..",
    "..#.#.#..",
    "..#####..",
    ".........",
)

Motif = Callable[[Field, Field, Field], Mask]


def pictured(bitmap: tuple[str, ...]) -> Motif:
    """A motif that repeats a picture of 9 by 9 cells over the cloth, upright in a band that hangs."""
    cells = np.asarray([[sign == "#" for sign in line] for line in bitmap])

    def motif(cell: Field, row: Field, under: Field) -> Mask:
        down, across = np.mod(cell - 1, 12).astype(int), np.mod(row - 1, 11).astype(int)
        inside = (down < 9) & (across < 9)
        return np.asarray(inside & cells[np.minimum(down, 8), np.minimum(across, 8)])

    return motif


def echo(cell: Field, row: Field, under: Field) -> Mask:
    """Lines that follow the effort's own line."""
    return np.asarray(np.mod(under, 5.0) < 1.6)


def steps(cell: Field, row: Field, under: Field) -> Mask:
    return np.asarray(np.mod(row + np.abs(np.mod(cell, 8) - 4), 6) < 2)


def checks(cell: Field, row: Field, under: Field) -> Mask:
    return np.asarray((np.mod(cell // 2, 2) == 0) & (np.mod(under // 2, 2) == 0))


def ladder(cell: Field, row: Field, under: Field) -> Mask:
    return np.asarray((np.mod(cell, 4) == 0) & (np.mod(under, 7.0) > 2.2) | (np.abs(np.mod(under, 7.0) - 1) < 0.6))


def diamonds(cell: Field, row: Field, under: Field) -> Mask:
    away = np.abs(np.mod(cell, 12) - 6) + np.abs(np.mod(row, 12) - 6)
    return np.asarray((away <= 1.5) | (np.abs(away - 4.5) < 1.0))


def chevrons(cell: Field, row: Field, under: Field) -> Mask:
    return np.asarray(np.mod(under + 0.8 * np.abs(np.mod(cell, 10) - 5), 6.0) < 2.0)


MOTIFS: tuple[tuple[Motif, int], ...] = (
    (echo, 0),
    (steps, 0),
    (checks, 3),
    (diamonds, 10),
    (ladder, 18),
    (pictured(STAR), 28),
    (chevrons, 44),
    (pictured(TREE), 60),
    (pictured(LEAF), 80),
    (pictured(BIRD), 105),
    (pictured(HOUSE), 135),
    (pictured(DEER), 170),
)


@dataclass(frozen=True)
class Design:
    """What a band is woven with."""

    yarn: Yarn
    motif: Motif
    spotted: bool

    @property
    def colours(self) -> NDArray[np.float64]:
        """(6, 3), in the order of GROUND ... SPOT."""
        yarn = self.yarn
        between = [(a + b) / 2 for a, b in zip(yarn.ground, yarn.edge, strict=True)]
        return np.asarray([yarn.ground, yarn.fill, yarn.motif, yarn.line, yarn.edge, between], dtype=np.float64)


def unlocked(count: int) -> tuple[list[Yarn], list[Motif]]:
    """The yarns and motifs that a shelf of so many bands allows."""
    return [yarn for yarn in YARNS if count >= yarn.from_count], [motif for motif, since in MOTIFS if count >= since]


@lru_cache(maxsize=1024)
def design_of(place: int) -> Design:
    """The design of band number `place` (0 is the first). What has just come within reach is woven at once."""
    chance = random.Random(7919 * (place + 1))
    yarns, motifs = unlocked(place)
    new_yarn = [yarn for yarn in yarns if yarn.from_count == place and place]
    new_motif = [motif for motif, since in MOTIFS if since == place and place]
    yarn = (new_yarn or [yarns[(place + place // len(yarns)) % len(yarns)]])[0]
    return Design(yarn, new_motif[0] if new_motif else chance.choice(motifs), place >= 8 and chance.random() < 0.6)


def grid(heights: Field, design: Design) -> NDArray[np.uint8]:
    """Which thread lies on top, (FINE * moments, FINE * ROWS); heights are shares of the cloth's half-width, one a
    moment.

    A cell of the motif is FINE threads each way, so that the line of the effort can be finer than the motif.
    """
    before = np.concatenate([heights[:1], heights[:-1]])
    line = np.stack([(before + heights) / 2, heights], axis=1).reshape(-1, 1)
    line = np.clip(line, 0.0, 1.0) * ROWS
    shape = (line.size, FINE * ROWS)
    row = np.broadcast_to((np.arange(shape[1]) // FINE).astype(np.float64)[None, :], shape)
    cell = np.broadcast_to((np.arange(shape[0]) // FINE).astype(np.float64)[:, None], shape)
    under = line - (np.arange(shape[1])[None, :] + 0.5) / FINE
    threads = np.where(under > 0, FILL, GROUND)
    threads[design.motif(cell, row, under) & (under > 1.5)] = MOTIF
    if design.spotted:
        threads[(under < -2) & (np.mod(cell + 2 * np.mod(row, 2), 4) == 0) & (np.mod(row, 3) == 0)] = SPOT
    threads[np.abs(under) <= 0.9] = LINE
    threads[:, -3] = EDGE
    threads[:, 0] = np.where(np.mod(cell[:, 0], 2) == 0, EDGE, threads[:, 0])
    return threads.astype(np.uint8)
