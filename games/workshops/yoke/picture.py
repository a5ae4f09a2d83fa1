"""The yoke's picture: the evening in the valley, the bridge with its two ropes, the carrier, the rack of full pails."""

from __future__ import annotations

import math

import pygame
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.evening import Evening, light_windows, windows_in
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import Motes, landing, smooth
from musclewood.games.kit.palette import Hour
from musclewood.games.kit.paper import SVG, bake
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import Backdrop, dim
from musclewood.games.workshops.craft import FEAST_S, Carried
from musclewood.games.workshops.painter import Painter
from musclewood.games.workshops.yoke.bridge import FAR_POST, NEAR_POST, Bridge
from musclewood.games.workshops.yoke.pails import BELOW, pail_image
from musclewood.games.workshops.yoke.people import People
from musclewood.games.workshops.yoke.places import carrier_x, end_y, hooks
from musclewood.games.workshops.yoke.rules import YokeRules

HORIZON = 420.0
LAYERS = (("yoke/far.svg", 12.0), ("yoke/slopes.svg", 6.0), ("yoke/brook.svg", 0.0), ("yoke/banks.svg", 0.0))
STANDING = ("yoke/spring.svg", "yoke/rack.svg", "yoke/front.svg")
BOARDS = (402.0, 484.0, 566.0)  # stage heights of the rack's boards
RACK_LEFT, RACK_WIDTH = 978.0, 260.0
LARGEST, OLD = 66.0, 44.0  # sides of a pail on the rack, and of an earlier one
ROPE, TWIST = (233, 217, 184), (160, 132, 96)
MARKS, FOOTLIGHTS = 15, 8  # along either rope; along the plank
UNLIT = (60, 39, 32)
SUN, LAMP, MOONLIGHT = (255, 190, 110), (255, 205, 120), (150, 176, 230)
MIST = (118, 112, 120)
MISTS = ((500.0, 640.0), (640.0, 604.0), (772.0, 652.0), (640.0, 690.0))
GLINTS = tuple((520.0 + 37 * n % 250, 616.0 + 29 * n % 88, 34.0 + 11 * n % 30, 1.7 * n) for n in range(13))
GUESTS = (("kingfisher", 12, (884.0, 640.0)), ("duckling", 34, (604.0, 688.0)), ("duckling", 48, (648.0, 698.0)))
CAT = (62, (1130.0, 313.0))


class YokePicture:
    """Reads `YokeRules`; holds nothing but pictures and the drift of leaves on the brook."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._people = People(stage.box, stage.reduced_motion)
        self._bridge = Bridge(stage.box)
        names = ("pennant", "cone", "kingfisher", "duckling", "cat")
        self._sheet = {name: stage.box.sheet(f"yoke/{name}.svg") for name in names}
        self._mist = _cloud(stage.box.scale)
        self._windows = windows_in("yoke/slopes.svg", 6)
        self._flies = Motes(5, 8)
        self._pails = Painter(pail_image)
        self._backdrop = Backdrop(self._begin)

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._pails.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: YokeRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._brook(canvas, rules, time_s)
        self._draw_rack(canvas, rules)
        self._people.draw_near(canvas, rules, time_s)
        self._bridge.draw(canvas, rules, before=False)
        self._footlights(canvas, rules)
        self._ropes(canvas, rules)
        self._people.draw_carrier(canvas, rules, time_s)
        self._bridge.draw(canvas, rules, before=True)
        self._drift(canvas, rules, step_s)
        dim(canvas, rules, 0.3, 0.7)
        for one in rules.carried:
            self._bring(canvas, rules, one)

    # --- the evening --------------------------------------------------------------------------------------------
    def _begin(self, size_px: tuple[int, int]) -> Evening:
        return Evening(self._box.scale, size_px, HORIZON, self._paint)

    def _paint(self, picture: pygame.Surface, hour: Hour, share: float) -> None:
        """One hour in the valley."""
        scale = self._box.scale
        if hour == "dawn":  # the sun, still behind the hills
            place, size = (round(640 * scale), round(350 * scale)), (round(900 * scale), round(400 * scale))
            shine(picture, place, size, SUN, 0.45)
        for name, drift in LAYERS:
            self._box.sheet(name, hour).draw(picture, dx=drift * (0.5 - share) * 2)
            if name == "yoke/slopes.svg":
                lit = self._windows[: round(share * len(self._windows))]
                light_windows(picture, lit, scale, drift * (0.5 - share) * 2)
        for name in STANDING:
            self._box.sheet(name, hour).draw(picture)

    def _brook(self, canvas: Canvas, rules: YokeRules, time_s: float) -> None:
        """Moonlight on the brook at rest, wasted water as mist over it; those who live there."""
        sway = 0.0 if self._still else 1.0
        for x, y, wide, phase in GLINTS:
            wave = sway * math.sin(0.8 * time_s + phase)
            strength = (0.45 + 0.2 * wave) * rules.rest * (0.35 + 0.65 * smooth(rules.rested))
            shine(
                canvas.surface,
                canvas.at((x + 4 * wave, y)),
                (canvas.length(wide), canvas.length(8)),
                MOONLIGHT,
                strength,
            )
        count = len(rules.before) + len(rules.made)
        for number, (name, wanted, (x, y)) in enumerate(GUESTS):
            if count >= wanted:
                drift = sway * 4 * math.sin(0.4 * time_s + number) if name == "duckling" else 0.0
                self._sheet[name].draw(canvas.surface, x + drift, y)
        wasted = max(rules.murk, 0.55 * max(rules.spilling))
        if wasted > 0.03:
            self._mist.set_alpha(round(225 * wasted))
            for number, (x, y) in enumerate(MISTS):
                canvas.paste(self._mist, (x + sway * 6 * math.sin(time_s + number), y), "center")

    def _drift(self, canvas: Canvas, rules: YokeRules, step_s: float) -> None:
        """Fireflies along the banks."""
        if self._still:
            return
        self._flies.step(step_s, 0.8, (400, 640), (10, -14), 6.0)
        for number, fly in enumerate(self._flies.all):
            x = (40 if number % 2 else 930) + (fly.x * 5.7) % 250 + 14 * math.sin(1.7 * fly.age_s + fly.spin)
            bright = math.sin(math.pi * fly.share) * (0.6 + 0.4 * math.sin(2.4 * fly.age_s + fly.spin))
            shine(canvas.surface, canvas.at((x, fly.y)), (canvas.length(13),) * 2, LAMP, bright)

    # --- the band -----------------------------------------------------------------------------------------------
    def _ropes(self, canvas: Canvas, rules: YokeRules) -> None:
        """Two ropes from post to post. Cones stand on the upper, pennants hang from the lower: between them is room."""
        for name, height in (("cone", rules.mark_high), ("pennant", rules.mark_low)):
            y = end_y(height)
            canvas.surface.fill(TWIST, canvas.area((NEAR_POST, y - 1.5, FAR_POST - NEAR_POST, 5)))
            canvas.surface.fill(ROPE, canvas.area((NEAR_POST, y - 2.5, FAR_POST - NEAR_POST, 3.5)))
            for n in range(MARKS):
                self._sheet[name].draw(canvas.surface, NEAR_POST + (FAR_POST - NEAR_POST) * (n + 0.5) / MARKS, y)
        for end, hook in zip(rules.within, hooks(rules.along, rules.ends), strict=True):
            for height in (rules.mark_low, rules.mark_high):
                spot = canvas.at((hook[0], end_y(height)))
                shine(canvas.surface, spot, (canvas.length(140), canvas.length(26)), LAMP, 0.5 * min(end, rules.glow))

    def _footlights(self, canvas: Canvas, rules: YokeRules) -> None:
        """Along the plank's edge: one after the other is lit as far as she has come."""
        lit = math.floor(rules.walked * FOOTLIGHTS + 1e-6)
        for number in range(FOOTLIGHTS):
            place = (carrier_x((number + 1) / FOOTLIGHTS), 581.0)
            canvas.disc(UNLIT, place, 6.5)
            if number < lit:
                canvas.disc(LAMP, place, 4.5)
                shine(canvas.surface, canvas.at(place), (canvas.length(48),) * 2, LAMP, 0.6)

    # --- the pails ----------------------------------------------------------------------------------------------
    def _draw_rack(self, canvas: Canvas, rules: YokeRules) -> None:
        """Earlier evenings on the upper board, today's pails on the two below."""
        if len(rules.before) + len(rules.made) >= CAT[0]:
            self._sheet["cat"].draw(canvas.surface, *CAT[1])
        for place, pail in enumerate(rules.before[-6:]):
            self._stand(canvas, pail, (RACK_LEFT + RACK_WIDTH * (place + 0.5) / 6, BOARDS[0]), OLD)
        for one in rules.carried:
            if one.share >= 1.0:
                foot, side = self._place(rules, one.place)
                self._stand(canvas, one.product, foot, side)
                if rules.feast_s > 0:
                    wave = smooth(1 - abs((FEAST_S - rules.feast_s) * 1.2 - one.place * 2.4 / rules.asked - 0.9) / 0.9)
                    spot = canvas.at((foot[0], foot[1] - side / 2))
                    shine(canvas.surface, spot, (canvas.length(side * 2),) * 2, LAMP, 0.6 * wave)

    def _place(self, rules: YokeRules, place: int) -> tuple[tuple[float, float], float]:
        """Where today's pail number `place` stands (middle of its foot), and how large it is."""
        columns = max(4, math.ceil(rules.asked / 2))
        pitch = RACK_WIDTH / columns
        row, column = divmod(place % (2 * columns), columns)
        return (RACK_LEFT + pitch * (column + 0.5), BOARDS[1 + row]), min(LARGEST, max(pitch * 1.35, 38.0))

    def _stand(self, canvas: Canvas, pail: Product, foot: tuple[float, float], side: float) -> None:
        image = self._pails.image(pail, canvas.length(side))
        if image is not None:
            canvas.paste(image, (foot[0], foot[1] + side * BELOW), "midbottom")

    def _bring(self, canvas: Canvas, rules: YokeRules, one: Carried) -> None:
        """From the yoke's end to its place on the rack; with reduced motion it fades in there."""
        if one.share >= 1.0:
            return
        foot, side = self._place(rules, one.place)
        image = self._pails.image(one.product, canvas.length(side))
        if image is None:
            return
        if self._still:
            image.set_alpha(round(255 * smooth(one.share)))
            canvas.paste(image, (foot[0], foot[1] + side * BELOW), "midbottom")
            image.set_alpha(255)
            return
        share, lift = smooth(one.share), 120 * math.sin(math.pi * smooth(one.share))
        x, y = 930 + (foot[0] - 930) * share, 420 + (foot[1] - 420) * landing(one.share) - lift
        shine(canvas.surface, canvas.at((x, y - side / 2)), (canvas.length(170),) * 2, LAMP, 0.5 * (1 - share))
        canvas.paste(image, (x, y + side * BELOW), "midbottom")


def _cloud(scale: float) -> pygame.Surface:
    """A soft patch of dull mist."""
    ink = "#{:02X}{:02X}{:02X}".format(*MIST)
    stops = f'<stop offset="0" stop-color="{ink}"/><stop offset="1" stop-color="{ink}" stop-opacity="0"/>'
    body = f'<defs><radialGradient id="m">{stops}</radialGradient></defs><ellipse rx="170" ry="52" fill="url(#m)"/>'
    group = f'<g data-lift="0" data-rim="0" data-grain="0">{body}</g>'
    return bake(f'<svg xmlns="{SVG}" viewBox="-170 -52 340 104">{group}</svg>', scale).surface
