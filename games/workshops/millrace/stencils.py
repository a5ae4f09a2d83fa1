"""The signs that are stencilled on sacks: polygons within a circle of radius 1, y down. Pure numbers."""

from __future__ import annotations

import math

Point = tuple[float, float]
Shape = tuple[Point, ...]
Stencil = tuple[Shape, ...]


def _disc(x: float, y: float, radius: float, squash: float = 1.0, corners: int = 24) -> Shape:
    turns = [2 * math.pi * n / corners for n in range(corners)]
    return tuple((x + radius * math.cos(turn), y + radius * squash * math.sin(turn)) for turn in turns)


def _leaf(x: float, y: float, length: float, half_width: float, turn: float) -> Shape:
    """A pointed leaf from (x, y) outwards; `turn` in radians clockwise from upwards."""
    sides = [(half_width * math.sin(math.pi * n / 8), length * n / 8) for n in range(9)]
    outline = sides + [(-across, along) for across, along in reversed(sides[1:-1])]
    cos, sin = math.cos(turn), math.sin(turn)
    return tuple((x + across * cos + along * sin, y + across * sin - along * cos) for across, along in outline)


def _bar(x0: float, y0: float, x1: float, y1: float, thick: float) -> Shape:
    long = math.hypot(x1 - x0, y1 - y0)
    nx, ny = -(y1 - y0) / long * thick / 2, (x1 - x0) / long * thick / 2
    return (x0 + nx, y0 + ny), (x1 + nx, y1 + ny), (x1 - nx, y1 - ny), (x0 - nx, y0 - ny)


def _star(points: int, inner: float) -> Shape:
    corners = []
    for n in range(2 * points):
        turn, reach = math.pi * n / points, inner if n % 2 else 1.0
        corners.append((reach * math.sin(turn), -reach * math.cos(turn)))
    return tuple(corners)


def _wheel() -> Stencil:
    spokes = [_bar(0.0, 0.0, math.sin(n * math.pi / 3), -math.cos(n * math.pi / 3), 0.14) for n in range(6)]
    pads = [
        _bar(0.86 * math.sin(t - 0.24), -0.86 * math.cos(t - 0.24), 0.86 * math.sin(t + 0.24),
        -0.86 * math.cos(t + 0.24), 0.24)
        for t in (n * math.pi / 3 for n in range(6))
    ]  # fmt: skip
    return (*spokes, *pads, _disc(0, 0, 0.24))


def _ear() -> Stencil:
    grains = [_leaf(side * 0.06, 0.34 - 0.3 * n, 0.46, 0.13, side * 0.62) for n in range(4) for side in (-1, 1)]
    return (_bar(0, 1.0, 0, -0.5, 0.09), *grains, _leaf(0, -0.55, 0.46, 0.13, 0.0))


def _sun() -> Stencil:
    rays = [_leaf(0.56 * math.sin(t), -0.56 * math.cos(t), 0.44, 0.11, t) for t in (n * math.pi / 5 for n in range(10))]
    return (_disc(0, 0, 0.46), *rays)


def _fish() -> Stencil:
    return (
        _leaf(0.95, 0.0, 1.5, 0.42, -math.pi / 2),
        ((-0.4, 0.0), (-0.98, -0.46), (-0.78, 0.0), (-0.98, 0.46)),
    )


def _duck() -> Stencil:
    body = (
        (-0.95, -0.05),
        (-0.7, 0.45),
        (-0.2, 0.62),
        (0.45, 0.5),
        (0.72, 0.1),
        (0.5, -0.1),
        (0.0, 0.0),
        (-0.5, -0.16),
    )
    return body, _disc(0.5, -0.36, 0.32), ((0.76, -0.44), (1.06, -0.3), (0.76, -0.22))


def _moon() -> Stencil:
    outer = [
        (0.9 * math.cos(t) - 0.1, 0.9 * math.sin(t)) for t in (0.75 + n * (2 * math.pi - 1.5) / 30 for n in range(31))
    ]
    inner = [
        (0.72 * math.cos(t) + 0.22, 0.72 * math.sin(t)) for t in (5.35 - n * (5.35 - 0.93) / 26 for n in range(27))
    ]
    return (tuple(outer + inner),)


def _oak() -> Stencil:
    return (
        _leaf(0.0, 0.95, 0.95, 0.3, 0.0), _leaf(-0.05, 0.55, 0.85, 0.24, -0.9), _leaf(0.05, 0.55, 0.85, 0.24, 0.9),
        _leaf(-0.03, 0.1, 0.8, 0.22, -0.6), _leaf(0.03, 0.1, 0.8, 0.22, 0.6), _leaf(0.0, 0.1, 1.1, 0.24, 0.0),
    )  # fmt: skip


def _drop() -> Stencil:
    ripples = [_bar(-0.62 + 0.14 * n, 0.62 + 0.2 * n, 0.62 - 0.14 * n, 0.62 + 0.2 * n, 0.1) for n in range(2)]
    return (
        (
            *[(0.42 * math.sin(t), 0.02 - 0.42 * math.cos(t)) for t in (1.0 + n * 4.28 / 20 for n in range(21))],
            (0.0, -1.0),
        ),
        *ripples,
    )


def _mouse() -> Stencil:
    body = _disc(-0.15, 0.2, 0.6, 0.62)
    return (
        body, _disc(0.45, 0.16, 0.36, 0.8), _disc(0.22, -0.34, 0.26), ((0.7, -0.04), (1.0, 0.26), (0.62, 0.4)),
        _bar(-0.66, 0.3, -0.98, 0.02, 0.09), _bar(-0.98, 0.02, -0.86, -0.36, 0.09),
    )  # fmt: skip


def _rind() -> Stencil:
    """The iron cross that carries a millstone."""
    arms = [((0.1 * sx, 0.0), (0.22 * sx, 0.4 * sy), (0.62 * sx, 0.62 * sy), (0.5 * sx, 0.94 * sy), (0.12 * sx,
        0.7 * sy), (0.0, 0.24 * sy)) for sx in (-1, 1) for sy in (-1, 1)]  # fmt: skip
    return (*arms, _disc(0, 0, 0.26))


def _house() -> Stencil:
    return (
        ((-0.95, -0.05), (0.0, -0.9), (0.95, -0.05), (0.72, 0.06), (0.0, -0.58), (-0.72, 0.06)),
        (
            (-0.6, 0.16),
            (0.0, -0.38),
            (0.6, 0.16),
            (0.6, 0.9),
            (0.2, 0.9),
            (0.2, 0.4),
            (-0.2, 0.4),
            (-0.2, 0.9),
            (-0.6, 0.9),
        ),
    )


# Each with how many sacks must have been filled before it may be used; a stencil that was cut stays.
STENCILS: tuple[tuple[int, Stencil], ...] = (
    (0, _ear()),
    (0, _wheel()),
    (0, _drop()),
    (0, _sun()),
    (6, _fish()),
    (12, (_star(5, 0.44),)),
    (18, _duck()),
    (26, _oak()),
    (36, _mouse()),
    (48, _moon()),
    (64, _house()),
    (84, _rind()),
    (110, (_star(8, 0.46),)),
)


def unlocked(count: int) -> tuple[Stencil, ...]:
    """The stencils that a mill has after so many sacks."""
    return tuple(stencil for needed, stencil in STENCILS if count >= needed)
