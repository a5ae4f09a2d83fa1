"""The line that the prints hang on: today's before the longest skips of earlier evenings, the
longest of today on top."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor

import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import landing, smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.craft import FEAST_S, Carried
from musclewood.games.workshops.skimming_pond.places import Point, water_at
from musclewood.games.workshops.skimming_pond.prints import print_image
from musclewood.games.workshops.skimming_pond.rules import PondRules

Cord = tuple[Point, Point, float]  # from, to, and how far it sags between
CORDS: tuple[Cord, Cord] = (((768.0, 246.0), (1230.0, 250.0), 24.0), ((776.0, 330.0), (1236.0, 338.0), 14.0))
PLACES = 10  # on either cord
PRINT, BEST, OLD = 42.0, 60.0, 34.0  # heights of one of today's prints, of the longest skip, of an earlier evening's
RISES_FROM = 0.35  # of the way over the water
TWINE, PEG, BEST_PEG, LAMP = (233, 217, 184), (154, 107, 70), (240, 154, 60), (255, 205, 120)


class Line:
    """Draws cords, pegs and prints; the prints are pulled in a thread because one takes longer than a frame."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._pole = box.sheet("skimming_pond/line.svg")
        self._press = ThreadPoolExecutor(max_workers=1, thread_name_prefix="prints")
        self._asked: dict[tuple[int, tuple[float, ...], int], Future[pygame.Surface]] = {}

    def settle(self) -> None:
        """Wait until every print asked for is there; for stills."""
        for pulled in self._asked.values():
            pulled.result()

    def draw(self, canvas: Canvas, rules: PondRules) -> None:
        """Both cords with all that hangs on them, and the print that is on its way up."""
        columns = max(min(rules.asked, PLACES), 7)
        second = max(0, len(rules.made) - columns)
        earlier = rules.earlier[second - PLACES :] if second < PLACES else ()
        if earlier or second:
            _hang(canvas, CORDS[1])
        for place, old in enumerate(earlier):
            self._peg(canvas, old, _along(CORDS[1], place + min(second, PLACES), PLACES), OLD)
        _hang(canvas, CORDS[0])
        self._pole.draw(canvas.surface)
        for one in sorted(rules.carried, key=lambda one: one.place == rules.best):
            if one.share > 0.0:
                row, column = (
                    divmod(one.place % (columns + PLACES), columns) if one.place >= columns else (0, one.place)
                )
                self._bring(canvas, rules, one, _along(CORDS[row], column, PLACES if row else columns))

    def _bring(self, canvas: Canvas, rules: PondRules, one: Carried, place: Point) -> None:
        """A print rises from the water to its peg; with reduced motion it fades in there."""
        best = one.place == rules.best
        height = BEST if best else PRINT
        image = self._image(one.product, canvas.length(height))
        if image is None:
            return
        if one.share >= 1.0:
            self._peg(canvas, one.product, place, height, BEST_PEG if best else PEG)
            self._honour(canvas, rules, one, place)
        elif self._still:
            image.set_alpha(round(255 * smooth(one.share)))
            canvas.paste(image, place, "midtop")
            image.set_alpha(255)  # not None, which would drop the alpha of its pixels
        else:
            x, y, _ = water_at(RISES_FROM)
            share = smooth(one.share)
            now = (x + (place[0] - x) * share, y - 30 + (place[1] - y + 30) * landing(one.share))
            shine(canvas.surface, canvas.at((now[0], now[1] + 22)), (canvas.length(150),) * 2, LAMP, 0.5 * (1 - share))
            canvas.paste(image, now, "midtop")

    def _honour(self, canvas: Canvas, rules: PondRules, one: Carried, place: Point) -> None:
        """A bow for the longest skip; when a set is finished a light runs along all prints."""
        if one.place == rules.best:
            _bow(canvas, place)
        if rules.feast_s > 0:
            wave = smooth(1 - abs((FEAST_S - rules.feast_s) * 1.2 - one.place * 2.4 / rules.asked - 0.9) / 0.9)
            shine(canvas.surface, canvas.at((place[0], place[1] + 26)), (canvas.length(110),) * 2, LAMP, 0.5 * wave)

    def _peg(
        self, canvas: Canvas, product: Product, place: Point, height: float, peg: tuple[int, int, int] = PEG
    ) -> None:
        image = self._image(product, canvas.length(height))
        if image is None:
            return
        canvas.paste(image, place, "midtop")
        for side in (-0.4, 0.4):
            canvas.surface.fill(peg, canvas.area((place[0] + side * height - 2, place[1] - 3, 4, 10)))

    def _image(self, product: Product, height_px: int) -> pygame.Surface | None:
        """The picture, or None until it is pulled."""
        key = (product.seed, product.profile, height_px)
        if key not in self._asked:
            self._asked[key] = self._press.submit(print_image, product, height_px)
        return self._asked[key].result() if self._asked[key].done() else None


def _on(cord: Cord, share: float) -> Point:
    (x0, y0), (x1, y1), sag = cord
    return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share + 4 * sag * share * (1 - share)


def _along(cord: Cord, place: int, places: int) -> Point:
    """Where a print hangs: the middle of its upper edge."""
    return _on(cord, 0.04 + 0.92 * (place + 0.5) / places)


def _hang(canvas: Canvas, cord: Cord) -> None:
    canvas.line(TWINE, [_on(cord, n / 16) for n in range(17)], 1.6)


def _bow(canvas: Canvas, place: Point) -> None:
    """Tied to the longest skip of the evening: a shape, not only a colour."""
    x, y = place
    for side in (-1, 1):
        canvas.shape(BEST_PEG, [(x, y), (x + 15 * side, y - 9), (x + 15 * side, y + 7)])
        canvas.shape(BEST_PEG, [(x, y), (x + 10 * side, y + 20), (x + 3 * side, y + 21)])
    canvas.disc(PEG, (x, y), 4)
