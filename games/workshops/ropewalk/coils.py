"""Draws a finished coil of rope: turn upon turn from the middle outwards, each as wide as the effort was at that
moment.

An even hold gives an even coil; every wavering is seen as a turn that bulges. The same rope gives the same coil at any
size.
"""

from __future__ import annotations

import math

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import Colour, mixed
from musclewood.games.kit.paper import Cut
from musclewood.games.workshops.cut_out import cut_out, standing
from musclewood.games.workshops.ropewalk.strands import Lay, lay_of

TURNS, STEPS = 3.2, 150
INNER, OUTER = 0.155, 0.37  # radii of the coil, as shares of the side
THICK = 0.088
DARK, BEADS = (40, 32, 52), ((230, 159, 0), (86, 180, 233), (0, 158, 115))


def coil_image(product: Product, side_px: int) -> pygame.Surface:
    """A square picture with MARGIN around the coil."""
    target = product.figures.get("target_pct_mvc", 0.0)
    return _coil_image(int(product.figures["place"]), target, product.profile, side_px)


draw_product = standing(coil_image)


@kept(10)
def _coil_image(place: int, target: float, profile: tuple[float, ...], side_px: int) -> pygame.Surface:
    fine = 3 if side_px < 90 else 2  # drawn larger and shrunk, so that edges are smooth
    side = side_px * fine
    flat = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    rope = lay_of(place)
    _loop(flat, rope)
    _turns(flat, rope, widths_of(profile, target))
    _finish(flat, rope)
    return cut_out(flat, side_px, Cut(lift=3.0, shadow=0.45, grain=6.0, rim=26.0))


def widths_of(profile: tuple[float, ...], target: float) -> np.ndarray:
    """How thick the rope is along its length (STEPS,), 1 at the target; the ends of a rep, where it rises and falls,
    are cut."""
    if len(profile) < 8 or target <= 0:
        return np.ones(STEPS)
    held = np.asarray(profile[len(profile) // 8 : -max(1, len(profile) // 16)]) / target
    along = np.interp(np.linspace(0, 1, STEPS), np.linspace(0, 1, held.size), held)
    return np.clip(1 + 1.6 * (along - 1), 0.55, 1.5)


def _turns(flat: pygame.Surface, rope: Lay, widths: np.ndarray) -> None:
    side = flat.get_width()
    middle = (0.5 * side, 0.57 * side)
    for n in range(STEPS):
        share = n / (STEPS - 1)
        turn = 2 * math.pi * (TURNS * share) - math.pi / 2
        radius = (INNER + (OUTER - INNER) * share) * side
        at = (middle[0] + radius * math.cos(turn), middle[1] + 0.96 * radius * math.sin(turn))
        _strand(flat, at, turn, THICK * side * float(widths[n]), rope.strands[n // 2 % 3], rope.steep)


def _strand(
    flat: pygame.Surface, at: tuple[float, float], turn: float, thick: float, colour: Colour, steep: float
) -> None:
    """One float of a strand, lying aslant over the rope: a lens with a lit and a dark side."""
    along, across = (-math.sin(turn), math.cos(turn)), (math.cos(turn), math.sin(turn))
    half, slant = thick / 2, 0.55 * thick * steep

    def point(a: float, b: float) -> tuple[float, float]:
        return at[0] + a * along[0] + b * across[0], at[1] + a * along[1] + b * across[1]

    lens = [point(-slant, -half), point(0.1 * slant, -half), point(slant + 0.3 * half, half), point(-0.1 * slant, half)]
    pygame.draw.polygon(flat, mixed(colour, DARK, 0.42), [point(a, b) for a, b in ((-slant - 0.25 * half, -half),
        (0.2 * slant, -1.06 * half), (slant + 0.55 * half, 1.06 * half), (-0.2 * slant, half))])  # fmt: skip
    pygame.draw.polygon(flat, colour, lens)
    pygame.draw.line(
        flat, mixed(colour, (255, 250, 232), 0.4), point(-0.5 * slant, -0.55 * half), point(0.35 * slant, 0.3 * half),
        max(1, round(0.12 * thick)),
    )  # fmt: skip


def _loop(flat: pygame.Surface, rope: Lay) -> None:
    """The eye by which it hangs."""
    side = flat.get_width()
    for n in range(26):
        turn = math.pi * (0.86 + 1.28 * n / 25)
        at = (0.5 * side + 0.085 * side * math.cos(turn), 0.135 * side + 0.085 * side * math.sin(turn))
        _strand(flat, at, turn, 0.06 * side, rope.strands[n % 3], rope.steep)


def _finish(flat: pygame.Surface, rope: Lay) -> None:
    """What binds the turns together, by the rope's own finish."""
    side, colour = flat.get_width(), rope.strands[1]
    for turn in (0.5, 2.6, 4.72) if rope.finish != "whipped" else (4.72,):
        for ring in range(5):
            radius = (INNER - 0.03 + (OUTER - INNER + 0.075) * ring / 4) * side
            at = (0.5 * side + radius * math.cos(turn), 0.57 * side + 0.96 * radius * math.sin(turn))
            pygame.draw.circle(flat, mixed(colour, DARK, 0.35), at, 0.036 * side)
            pygame.draw.circle(flat, mixed(colour, (255, 250, 232), 0.15), at, 0.027 * side)
    middle = (0.5 * side, 0.57 * side)
    if rope.finish in ("rosette", "beaded"):
        for n in range(8):
            turn = math.pi * n / 4
            at = (middle[0] + 0.07 * side * math.cos(turn), middle[1] + 0.07 * side * math.sin(turn))
            bead = BEADS[n % 3] if rope.finish == "beaded" else rope.strands[n % 2]
            pygame.draw.circle(flat, mixed(bead, DARK, 0.4), at, 0.042 * side)
            pygame.draw.circle(flat, bead, at, 0.032 * side)
        pygame.draw.circle(flat, mixed(colour, (255, 250, 232), 0.5), middle, 0.04 * side)
    if rope.finish in ("tassel", "braided", "looped"):
        for n in range(7):
            x = (0.4 + 0.033 * n) * side
            foot = (x + (n - 3) * 0.008 * side, (0.975 if n % 2 else 0.995) * side)
            pygame.draw.line(flat, rope.strands[n % 3], (0.5 * side, 0.88 * side), foot, max(2, round(0.026 * side)))
        pygame.draw.circle(flat, mixed(colour, DARK, 0.3), (0.5 * side, 0.9 * side), 0.045 * side)
        pygame.draw.circle(flat, colour, (0.5 * side, 0.9 * side), 0.034 * side)
