"""Who is at the kiln: the potter at her bellows, the apprentice, the cat on the logs."""

from __future__ import annotations

import math

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.kiln.rules import KilnRules
from musclewood.games.workshops.poses import Swing

SHOULDER, HINGE = (352.0, 496.0), (486.0, 602.0)  # the potter's arm and the bellows' upper board turn about these
ELBOW_ROOM = (808.0, 520.0)  # the apprentice's free arm
ARM_OPEN, ARM_SHUT = -24.0, -47.0  # degrees; together they keep her hand on the board
BOARD_OPEN, BOARD_SHUT = -52.0, -31.0
LEATHER, FOLD = (112, 66, 52), (78, 44, 42)


class People:
    """Her hand presses the bellows just as hard as the muscle works; the others answer in their own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("potter", "bellows", "apprentice", "apprentice_crutch_arm", "cat", "cat_tail")
        self._sheet = {name: box.sheet(f"kiln/{name}.svg") for name in names}
        self._arm = Swing(box.sheet("kiln/potter_arm.svg"), SHOULDER, ARM_OPEN, ARM_SHUT)
        self._board = Swing(box.sheet("kiln/bellows_board.svg"), HINGE, BOARD_OPEN, BOARD_SHUT)
        self._cheer = Swing(box.sheet("kiln/apprentice_arm.svg"), ELBOW_ROOM, 0.0, -142.0)
        self._breaths: dict[int, pygame.Surface] = {}  # the cat, some pixels taller
        self._tail = Swing(self._sheet["cat_tail"], (110.0, 548.0), -7.0, 7.0)

    def draw(self, canvas: Canvas, rules: KilnRules, time_s: float) -> None:
        self._draw_cat(canvas, time_s)
        self._draw_bellows(canvas, rules.flame)
        self._sheet["potter"].draw(canvas.surface)
        self._arm.at(rules.flame).draw(canvas.surface)
        self._draw_apprentice(canvas, rules.cheer, time_s)

    def _draw_cat(self, canvas: Canvas, time_s: float) -> None:
        asleep = 0.5 if self._still else 0.5 + 0.5 * math.sin(time_s * 0.9) * math.sin(time_s * 0.23)
        self._tail.at(asleep).draw(canvas.surface)
        cat = self._sheet["cat"]
        breath = 0 if self._still else round((1 + math.sin(time_s * 1.7)) * 0.9 * canvas.scale)
        if breath not in self._breaths:
            width, height = cat.surface.get_size()
            self._breaths[breath] = pygame.transform.smoothscale(cat.surface, (width, height + breath))
        corner = (round(cat.x * canvas.scale), round(cat.y * canvas.scale) - breath)
        canvas.surface.blit(self._breaths[breath], corner)

    def _draw_bellows(self, canvas: Canvas, effort: float) -> None:
        turn = math.radians(BOARD_OPEN + (BOARD_SHUT - BOARD_OPEN) * min(effort, 1.0))
        upper = (HINGE[0] - 92 * math.cos(turn), HINGE[1] + 92 * math.sin(turn))
        lower = (400.0, 612.0)
        points = [HINGE]
        for n in range(9):  # leather folds between the two boards
            out = 0.0 if n % 2 else 7.0
            share = n / 8
            points.append((upper[0] + (lower[0] - upper[0]) * share - out, upper[1] + (lower[1] - upper[1]) * share))
        canvas.shape(LEATHER, points)
        for n in (2, 4, 6):
            canvas.line(FOLD, [HINGE, points[n]], 1.6)
        self._sheet["bellows"].draw(canvas.surface)
        self._board.at(effort).draw(canvas.surface)

    def _draw_apprentice(self, canvas: Canvas, cheer: float, time_s: float) -> None:
        up = smooth(min(1.0, 3 * cheer)) * smooth(min(1.0, 6 * (1 - cheer)))
        hop = 0.0 if self._still else -3.0 * up * abs(math.sin(time_s * 5.0))
        self._cheer.at(up).draw(canvas.surface, dy=hop)
        self._sheet["apprentice"].draw(canvas.surface, dy=hop)
        self._sheet["apprentice_crutch_arm"].draw(canvas.surface, dy=hop)
