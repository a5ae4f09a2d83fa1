"""Draws a full pail from what its rep was: the painted line round it is the effort over time, its steadiness the brush.

Wood, hoops, paint and what floats on the water are the seed's. It is cut from paper like everything else, at whatever
size is asked for, and the same product gives the same pail.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import SVG, bake

Thing = TypeVar("Thing")
STEADY_FROM, STEADY_TO = 0.72, 0.96  # steadiness of a shaky and of a very steady effort; our choice
TALL, WIDE, HEAD = 97.0, 92.0, 9.0  # height and width of the frame a pail stands in, and where it begins
BELOW = 12.0 / TALL  # of the side: what a picture reaches below the pail's foot, for its shadow
RIM, BASE = 44.0, 100.0  # heights in the frame: of the brim and of the foot
SWING = 13.0  # how far the painted line rises for half the target more; our choice: seen, and never off the pail
WOODS = (
    ("#A97B50", "#7C5636"),
    ("#C79A66", "#946C42"),
    ("#8A5E42", "#5E3E2C"),
    ("#B98A5E", "#8C6240"),
    ("#9C8A78", "#6E6054"),
)
HOOPS = (("#8F8A9E", "#6C687C"), ("#C48A4E", "#94622E"), ("#5A5868", "#3E3C4A"), ("#B7A35E", "#857440"))
# Ground of the painted band, its line, its two brush colours.
PAINTS = (
    ("#F1E6D0", "#0072B2", "#D55E00", "#009E73"),
    ("#2F4A7E", "#F0E442", "#E9D9B8", "#56B4E9"),
    ("#A8472E", "#F1E6D0", "#F0C452", "#2F3A4A"),
    ("#2F7A62", "#F1E6D0", "#E7B4CF", "#F0C452"),
    ("#5B3A6E", "#F0C452", "#CC79A7", "#E9D9B8"),
    ("#E2B23A", "#5A3424", "#A8472E", "#2F6690"),
    ("#D8CBB8", "#5B3A6E", "#2F7A62", "#A8472E"),
)
NEW_ONE = 14  # pails; our choice: about one new paint, motif and floating thing a week
MOTIFS = ("dots", "leaves", "peaks", "flowers", "fish", "lattice")
FLOATS = ("", "leaf", "", "flower", "two leaves", "star")


def unlocked(things: Sequence[Thing], place: int) -> Sequence[Thing]:
    """Those at hand when so many pails had been brought over: three at first, and one more for every NEW_ONE."""
    return things[: 3 + max(place, 0) // NEW_ONE]


def draw_product(canvas: Canvas, box: Box, product: Product) -> None:
    """The pail standing on the lower edge of the box, as large as fits."""
    side = min(box.width, box.height)
    image = pail_image(product, canvas.length(side))
    canvas.paste(image, (box.left + box.width / 2, box.bottom + side * BELOW), "midbottom")


def pail_image(product: Product, side_px: int) -> pygame.Surface:
    """A picture with the pail standing BELOW above the lower edge, in a frame of `side_px` pixels and its margin."""
    return _pail_image(product.seed, tuple(sorted(product.figures.items())), product.profile, side_px)


@kept(10)
def _pail_image(
    seed: int, figures: tuple[tuple[str, float], ...], profile: tuple[float, ...], side_px: int
) -> pygame.Surface:
    svg = _Pail(seed, dict(figures), profile).svg()
    fine = 2 if side_px < 120 else 1  # drawn larger and shrunk, so that edges are smooth
    sheet = bake(svg, fine * side_px / TALL).surface
    if fine == 1:
        return sheet
    return pygame.transform.smoothscale(sheet, (sheet.get_width() // fine, sheet.get_height() // fine))


class _Pail:
    """One pail; everything that chance decides is drawn before anything is painted."""

    def __init__(self, seed: int, figures: dict[str, float], profile: tuple[float, ...]) -> None:
        self.random = chance = random.Random(seed)
        place = int(figures.get("place", 0))
        self.wood, self.grain = chance.choice(WOODS)
        self.hoop, self.hoop_dark = chance.choice(HOOPS)
        self.ground, self.line, *self.brushes = chance.choice(unlocked(PAINTS, place))
        self.motif, self.floats = chance.choice(unlocked(MOTIFS, place)), chance.choice(unlocked(FLOATS, place))
        self.top, self.foot = chance.uniform(33, 38), chance.uniform(25, 33)
        self.bulge = chance.choice((0.0, 0.0, 3.0))
        self.bow_of_wood = chance.random() < 0.4
        self.many = chance.randint(5, 8)
        steadiness = figures.get("steadiness", STEADY_TO)
        self.evenness = min(max((steadiness - STEADY_FROM) / (STEADY_TO - STEADY_FROM), 0.0), 1.0)
        self.target = figures.get("target_pct_mvc", 0.0)
        self.profile = np.asarray(profile, dtype=np.float64)

    def svg(self) -> str:
        """The whole picture, upright in a frame of WIDE x TALL."""
        sheets = (
            ("2.0", "26", self._handle()),
            ("3.5", "34", self._body()),
            ("0.8", "14", self._staves()),
            ("0.8", "18", self._band()),
            ("1.4", "30", self._hoops()),
            ("0.6", "20", self._water()),
            ("1.0", "28", self._floating()),
        )
        groups = "".join(f'<g data-lift="{lift}" data-rim="{rim}">{body}</g>' for lift, rim, body in sheets if body)
        return f'<svg xmlns="{SVG}" viewBox="{-WIDE / 2} {HEAD} {WIDE} {TALL}">{groups}</svg>'

    def half(self, y: float) -> float:
        """Half the pail's width at a height."""
        share = (y - RIM) / (BASE - RIM)
        return self.top + (self.foot - self.top) * share + self.bulge * math.sin(math.pi * share)

    def _ring(self, upper: float, lower: float, colour: str) -> str:
        """A band round the pail between two heights, bent as a ring seen from a little above."""
        a, b = self.half(upper), self.half(lower)
        across = (
            f"M{-a:.1f} {upper:.1f}Q0 {upper + 9:.1f} {a:.1f} {upper:.1f}L{b:.1f} {lower:.1f}Q0 "
            f"{lower + 9:.1f} {-b:.1f} {lower:.1f}Z"
        )
        return f'<path fill="{colour}" d="{across}"/>'

    def _handle(self) -> str:
        a = self.top - 3
        rope = (
            f'<path fill="none" stroke="{self.grain if self.bow_of_wood else "#E9D9B8"}" '
            f'stroke-width="{4 if self.bow_of_wood else 2.6}" '
        )
        rope += f'd="M{-a:.1f} 46C{-a:.1f} 4 {a:.1f} 4 {a:.1f} 46"/>'
        return rope + f'<path fill="{self.grain}" d="M-9 11h18v7h-18Z"/>'

    def _body(self) -> str:
        sides = [(self.half(RIM + (BASE - RIM) * n / 6), RIM + (BASE - RIM) * n / 6) for n in range(7)]
        right = "".join(f"L{x:.1f} {y:.1f}" for x, y in sides)
        left = "".join(f"L{-x:.1f} {y:.1f}" for x, y in reversed(sides))
        low, base = self.half(BASE), BASE
        return f'<path fill="{self.wood}" d="M{-self.top:.1f} {RIM}{right}Q0 {base + 9} {-low:.1f} {base}{left}Z"/>'

    def _staves(self) -> str:
        seams = []
        for n in range(1, 8):
            x = math.sin((n / 8 - 0.5) * math.pi)
            dip = 4.5 * (1 - x * x)
            start, end = (x * self.half(RIM), RIM + dip), (x * self.half(BASE), BASE + dip)
            seams.append(f"M{start[0]:.1f} {start[1]:.1f}L{end[0]:.1f} {end[1]:.1f}")
        return f'<path fill="none" stroke="{self.grain}" stroke-width="1.2" d="{"".join(seams)}"/>'

    def _hoops(self) -> str:
        return "".join(self._ring(y, y + 5, self.hoop) + self._ring(y + 3.4, y + 5, self.hoop_dark) for y in (51, 90))

    # --- paint --------------------------------------------------------------------------------------------------
    def _band(self) -> str:
        """A painted band with its brushwork, and across it the line that the effort drew."""
        marks = "".join(self._mark(n) for n in range(self.many))
        return self._ring(59, 87, self.ground) + marks + self._effort_line()

    def _at(self, around: float, y: float) -> tuple[float, float]:
        """A point on the pail: `around` -1..1 from its left to its right edge."""
        x = math.sin(around * math.pi / 2)
        return x * self.half(y), y + 4.5 * (1 - x * x)

    def _mark(self, number: int) -> str:
        """One mark of the motif; an unsteady effort makes an unsteady brush."""
        loose = 1 - self.evenness
        around = -0.84 + 1.68 * (number + 0.5) / self.many + loose * self.random.uniform(-0.05, 0.05)
        x, y = self._at(around, 73 + (7 if number % 2 else -7) + loose * self.random.uniform(-3, 3))
        thin = max(0.35, math.cos(around * math.pi / 2))
        size = 4.4 * (1 + loose * self.random.uniform(-0.3, 0.3))
        turn = loose * self.random.uniform(-25, 25)
        colour = self.brushes[number % 2]
        shape = _motif(self.motif, size, colour, self.line)
        return f'<g transform="translate({x:.1f} {y:.1f}) rotate({turn:.0f}) scale({thin:.2f} 1)">{shape}</g>'

    def _effort_line(self) -> str:
        """Round the pail from left to right as the effort went, level on target."""
        if self.profile.size < 4 or self.target <= 0:
            off = np.zeros(24)
        else:
            up = np.flatnonzero(self.profile >= 0.6 * self.target)
            held = self.profile[up[0] : up[-1] + 1] if up.size >= 4 else self.profile
            off = np.interp(np.linspace(0, held.size - 1, 24), np.arange(held.size), held / self.target - 1)
        rise = SWING * 2 * np.clip(off, -0.5, 0.5)
        points = [self._at(-0.97 + 1.94 * n / 23, 73 - float(rise[n])) for n in range(24)]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        return f'<path fill="none" stroke="{self.line}" stroke-width="2.6" stroke-linejoin="round" d="{path}"/>'

    # --- water --------------------------------------------------------------------------------------------------
    def _water(self) -> str:
        a = self.top
        brim = f'<ellipse cy="{RIM}" rx="{a:.1f}" ry="8.5" fill="{self.grain}"/>'
        brim += f'<ellipse cy="{RIM}" rx="{a - 3:.1f}" ry="6.6" fill="#5E9CC4"/>'
        sky = f'<ellipse cx="{-a * 0.2:.1f}" cy="{RIM - 1}" rx="{a * 0.6:.1f}" ry="3.6" fill="#9CCBE6"/>'
        return (
            brim + sky + f'<ellipse cx="{a * 0.34:.1f}" cy="{RIM - 0.6}" rx="{a * 0.16:.1f}" ry="1.7" fill="#F6EFD2"/>'
        )

    def _floating(self) -> str:
        x = self.random.uniform(-14, 10)
        leaf = f'<path fill="#5E8A62" d="M{x - 8:.1f} {RIM + 1}q8 -7 17 -1q-8 6 -17 1Z"/>'
        match self.floats:
            case "leaf":
                return leaf
            case "two leaves":
                return leaf + f'<path fill="#C98A2E" d="M{x + 9:.1f} {RIM - 1}q6 -5 12 0q-6 4 -12 0Z"/>'
            case "flower":
                petals = "".join(
                    f'<ellipse cx="{x + 5 * math.cos(a):.1f}" cy="{RIM + 2.2 * math.sin(a):.1f}" rx="4" '
                    'ry="2.2" fill="#E7B4CF"/>'
                    for a in (0.3, 1.5, 2.8, 4.0, 5.3)
                )
                return petals + f'<ellipse cx="{x:.1f}" cy="{RIM}" rx="2.6" ry="1.6" fill="#F0E442"/>'
            case "star":
                return f'<path fill="#FFF0B8" d="M{x:.1f} {RIM - 4}l1.600 3l5 1l-5 1l-1.600 3l-1.600 -3l-5 -1l5 -1Z"/>'
        return ""


def _motif(name: str, size: float, colour: str, line: str) -> str:
    """One brush mark around the origin."""
    s = size
    match name:
        case "dots":
            return f'<circle r="{s * 0.62:.1f}" fill="{colour}"/>'
        case "leaves":
            return f'<path fill="{colour}" d="M0 {-s:.1f}Q{s:.1f} 0 0 {s:.1f}Q{-s:.1f} 0 0 {-s:.1f}Z"/>'
        case "peaks":
            return f'<path fill="{colour}" d="M{-s:.1f} {s * 0.7:.1f}L0 {-s * 0.8:.1f}L{s:.1f} {s * 0.7:.1f}Z"/>'
        case "flowers":
            petals = "".join(
                f'<circle cx="{s * 0.55 * math.cos(a):.1f}" cy="{s * 0.55 * math.sin(a):.1f}" '
                f'r="{s * 0.42:.1f}" fill="{colour}"/>'
                for a in (0.3, 1.55, 2.8, 4.05, 5.3)
            )
            return petals + f'<circle r="{s * 0.36:.1f}" fill="{line}"/>'
        case "fish":
            body = (
                f"M{-s:.1f} 0Q0 {-s * 0.9:.1f} {s * 0.7:.1f} 0L{s * 1.3:.1f} "
                f"{-s * 0.5:.1f}V{s * 0.5:.1f}L{s * 0.7:.1f} 0Q0 {s * 0.9:.1f} {-s:.1f} 0Z"
            )
            return f'<path fill="{colour}" d="{body}"/>'
    return (
        f'<path fill="none" stroke="{colour}" stroke-width="1.600" d="M{-s:.1f} {-s:.1f}L{s:.1f} '
        f'{s:.1f}M{s:.1f} {-s:.1f}L{-s:.1f} {s:.1f}"/>'
    )
