"""The pond's picture: the evening over the water, the skimmer on the landing stage, the prints on their line."""

from __future__ import annotations

import math

import pygame
from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.evening import Evening, light_windows, windows_in
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import Motes
from musclewood.games.kit.palette import Hour
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import Backdrop, dim
from musclewood.games.workshops.skimming_pond.guests import Guests
from musclewood.games.workshops.skimming_pond.line import Line
from musclewood.games.workshops.skimming_pond.people import People
from musclewood.games.workshops.skimming_pond.places import SHORE, hand_at, water_at
from musclewood.games.workshops.skimming_pond.rules import PondRules, Stone
from musclewood.games.workshops.skimming_pond.skips import FLIGHT_S, way_of
from musclewood.games.workshops.skimming_pond.water import Water

BEHIND = (("skimming_pond/far.svg", 12.0), ("skimming_pond/shore.svg", 6.0))
BEFORE = (("skimming_pond/near.svg", 0.0), ("skimming_pond/willow.svg", 0.0), ("skimming_pond/front.svg", -8.0))
SUN, LAMP = (255, 190, 110), (255, 205, 120)


class PondPicture:
    """Reads `PondRules`; holds nothing but pictures and the drift of fireflies."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._water = Water(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._guests = Guests(stage.box, stage.reduced_motion)
        stone = stage.box.sheet("skimming_pond/stone.svg")
        self._stones = [_smaller(stone.surface, 1.0 - 0.055 * n) for n in range(13)]
        self._windows = windows_in("skimming_pond/shore.svg", 4)
        self._flies = Motes(3, 9)
        self._line = Line(stage.box, stage.reduced_motion)
        self._backdrop = Backdrop(self._begin)

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._line.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: PondRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._water.draw(canvas, rules, time_s)
        self._guests.draw(canvas, rules, time_s)
        self._people.draw(canvas, rules, time_s)
        self._drift(canvas, step_s)
        dim(canvas, rules, 0.3, 0.7)
        self._line.draw(canvas, rules)
        if rules.stone:
            self._fly(canvas, rules, rules.stone)

    # --- the evening --------------------------------------------------------------------------------------------
    def _begin(self, size_px: tuple[int, int]) -> Evening:
        return Evening(self._box.scale, size_px, SHORE, self._paint)

    def _paint(self, picture: pygame.Surface, hour: Hour, share: float) -> None:
        """One hour at the pond: the far bank, its image in the water, the near bank."""
        scale = self._box.scale
        if hour == "dawn":  # the sun, still behind the hills
            place, size = (round(520 * scale), round(330 * scale)), (round(900 * scale), round(400 * scale))
            shine(picture, place, size, SUN, 0.45)
        for name, drift in BEHIND:
            self._box.sheet(name, hour).draw(picture, dx=drift * (0.5 - share) * 2)
        lit = self._windows[: round(share * len(self._windows))]
        light_windows(picture, lit, scale, BEHIND[1][1] * (0.5 - share) * 2)
        line, tall = round(SHORE * scale), round(150 * scale)
        mirrored = pygame.transform.flip(picture.subsurface((0, line - tall, picture.get_width(), tall)), False, True)
        self._box.sheet("skimming_pond/water.svg", hour).draw(picture)
        for row in range(0, tall, max(2, round(3 * scale))):  # every strip a little fainter and a little aside
            part = pygame.Rect(0, row, picture.get_width(), max(2, round(3 * scale)))
            mirrored.set_alpha(round(128 * (1 - row / tall) ** 1.2))
            picture.blit(mirrored, (round(2.4 * scale * math.sin(row / (5 * scale))), line + row), part)
        for name, drift in BEFORE:
            self._box.sheet(name, hour).draw(picture, dx=drift * (0.5 - share) * 2)

    def _drift(self, canvas: Canvas, step_s: float) -> None:
        """Fireflies over the near bank."""
        if self._still:
            return
        self._flies.step(step_s, 0.9, (230, 610), (16, -12), 6.0)
        for fly in self._flies.all:
            x = 40 + (fly.x * 5.7) % 380 + 14 * math.sin(1.7 * fly.age_s + fly.spin)
            bright = math.sin(math.pi * fly.share) * (0.6 + 0.4 * math.sin(2.4 * fly.age_s + fly.spin))
            shine(canvas.surface, canvas.at((x, fly.y)), (canvas.length(13),) * 2, LAMP, bright)

    # --- the stone ----------------------------------------------------------------------------------------------
    def _fly(self, canvas: Canvas, rules: PondRules, stone: Stone) -> None:
        """From the hand to the first touch in one long bow, then hop by hop."""
        if stone.age_s < FLIGHT_S:
            part = stone.age_s / FLIGHT_S
            begun, (x, y, _) = hand_at(0.0, further=-60.0), water_at(way_of(stone.touches).shares[0] * _skips(stone))
            place = (
                begun[0] + (x - begun[0]) * part,
                begun[1] + (y - begun[1]) * part**2 - 26 * math.sin(math.pi * part),
            )
            self._lay_stone(canvas, place, 1.0)
            return
        if stone.fate != "skips":
            return
        now = way_of(stone.touches).at(stone.age_s)
        if now:
            x, y, near = water_at(now[0])
            shadow = (canvas.length(40 * near), canvas.length(12 * near))
            shine(canvas.surface, canvas.at((x, y)), shadow, LAMP, 0.3)
            self._lay_stone(canvas, (x, y - 42 * near * now[1]), near)

    def _lay_stone(self, canvas: Canvas, place: tuple[float, float], near: float) -> None:
        shine(canvas.surface, canvas.at(place), (canvas.length(70 * near),) * 2, LAMP, 0.4)
        canvas.paste(self._stones[min(round((1 - near) / 0.055), 12)], place, "center")


def _skips(stone: Stone) -> float:
    """Where the first touch lies on the way, by what is known: a stone that sinks goes under at the landing stage."""
    return 1.0 if stone.fate == "skips" else 0.0


def _smaller(image: pygame.Surface, size: float) -> pygame.Surface:
    width, height = image.get_size()
    return pygame.transform.smoothscale(image, (max(1, round(width * size)), max(1, round(height * size))))
