"""What effort does in each kind of exercise, drawn as a hand would on the edge of a page: time to the right."""

from __future__ import annotations

from itertools import pairwise

from musclewood.games.desk.base.pieces import quiet_ink
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import mixed, palette
from musclewood.games.kit.theme import Theme


def sketch(canvas: Canvas, theme: Theme, box: Box, kind: str) -> None:
    """The band as a wash of colour, one line a muscle: the first full, the second in dashes."""

    def at(point: Point) -> Point:
        return box.left + box.width * point[0], box.bottom - box.height * point[1]

    drawn = OF_KIND[kind].sketch
    if drawn.band is not None:
        low, high = drawn.band
        wash = mixed(theme.slip, palette().paper["lamp"], 0.75)
        canvas.surface.fill(wash, canvas.area(Box(box.left, at((0, high))[1], box.width, box.height * (high - low))))
    canvas.line(quiet_ink(theme), [(box.left, box.bottom), (box.right, box.bottom)], 2)
    if drawn.followed:
        _dashes(canvas, mixed(theme.slip, theme.ink, 0.6), [at((x, y + 0.06)) for x, y in drawn.ways[0]])
    for number, way in enumerate(drawn.ways):
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
