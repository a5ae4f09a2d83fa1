"""What effort does in each kind of exercise, drawn as a hand would on the edge of a page: time to the right."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from musclewood.games.desk.base.pieces import quiet_ink
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import mixed, palette
from musclewood.games.kit.theme import Theme

Way = Sequence[Point]  # shares of width and height, from the lower left corner

_REST: Way = ((0.0, 0.05), (0.12, 0.05))
_HOLD: Way = (*_REST, (0.22, 0.62), (0.5, 0.65), (0.76, 0.62), (0.86, 0.05), (1.0, 0.05))
_WAYS: dict[str, tuple[Way, ...]] = {
    "hold": (_HOLD,),
    "quick": (
        (
            *((0.0, 0.05), (0.1, 0.05), (0.14, 0.66), (0.2, 0.66), (0.25, 0.05)),
            *((0.42, 0.05), (0.46, 0.64), (0.52, 0.66), (0.57, 0.05)),
            *((0.75, 0.05), (0.79, 0.66), (0.85, 0.64), (0.9, 0.05), (1.0, 0.05)),
        ),
    ),
    "track": (((0, 0.1), (0.16, 0.3), (0.32, 0.66), (0.48, 0.36), (0.64, 0.5), (0.8, 0.85), (1, 0.25)),),
    "relax": (((0, 0.13), (0.2, 0.08), (0.4, 0.12), (0.6, 0.07), (0.8, 0.1), (1, 0.08)),),
    "selective": (_HOLD, ((0, 0.04), (0.3, 0.1), (0.6, 0.07), (1, 0.05))),
    "paired": (_HOLD, tuple((x, y - 0.07 if y > 0.3 else y + 0.02) for x, y in _HOLD)),
}
_BANDS = {
    "hold": (0.5, 0.78),
    "quick": (0.5, 0.8),
    "relax": (0.0, 0.22),
    "selective": (0.5, 0.78),
    "paired": (0.44, 0.78),
}


def sketch(canvas: Canvas, theme: Theme, box: Box, kind: str) -> None:
    """The band as a wash of colour, one line a muscle: the first full, the second in dashes."""

    def at(point: Point) -> Point:
        return box.left + box.width * point[0], box.bottom - box.height * point[1]

    if kind in _BANDS:
        low, high = _BANDS[kind]
        wash = mixed(theme.slip, palette().paper["lamp"], 0.75)
        canvas.surface.fill(wash, canvas.area(Box(box.left, at((0, high))[1], box.width, box.height * (high - low))))
    canvas.line(quiet_ink(theme), [(box.left, box.bottom), (box.right, box.bottom)], 2)
    if kind == "track":
        _dashes(canvas, mixed(theme.slip, theme.ink, 0.6), [at((x, y + 0.06)) for x, y in _WAYS[kind][0]])
    for number, way in enumerate(_WAYS[kind]):
        points = [at(point) for point in way]
        if number:
            _dashes(canvas, theme.ink, points)
        else:
            canvas.line(palette().accent["blue"], points, 5)


def _dashes(canvas: Canvas, colour: tuple[int, int, int], points: list[Point], length: float = 9.0) -> None:
    """Along a way of straight pieces, pen down and pen up in turns."""
    for (ax, ay), (bx, by) in pairwise(points):
        reach = max(1.0, ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5)
        steps = max(1, round(reach / (2 * length)))
        for step in range(steps):
            start, end = step / steps, (step + 0.55) / steps
            ends = [(ax + (bx - ax) * share, ay + (by - ay) * share) for share in (start, end)]
            canvas.line(colour, ends, 4)
