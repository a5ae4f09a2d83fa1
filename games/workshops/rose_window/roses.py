"""Draws a finished rose: the effort of one repetition, mirrored and repeated round the wheel, in leaded glass.

A gentle hill becomes a petal, and every unsteadiness a notch in each of them. The same product gives the same rose at
any size.
"""

from __future__ import annotations

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import Cut
from musclewood.games.workshops.cut_out import cut_out, standing
from musclewood.games.workshops.rose_window.glass import HUB, REACH, Design, design_of
from numpy.typing import NDArray

Field = NDArray[np.float64]
LEAD, OAK, OAK_LIGHT, NIGHT = (34, 32, 52), (112, 78, 56), (160, 118, 80), (32, 36, 84)
RIM = 0.86  # inner radius of the frame, as a share of the half side
LINE = 0.022  # half a lead line


def rose_image(product: Product, side_px: int) -> pygame.Surface:
    """A square picture with MARGIN around the rose."""
    target = product.figures.get("target_pct_mvc", 0.0)
    return _rose_image(int(product.figures["place"]), target, product.profile, side_px)


draw_product = standing(rose_image)


@kept(10)
def _rose_image(place: int, target: float, profile: tuple[float, ...], side_px: int) -> pygame.Surface:
    fine = 3 if side_px < 90 else 2
    side = side_px * fine
    flat = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    rgb, alpha = _painted(side, heights_of(profile, target), design_of(place))
    pygame.surfarray.pixels3d(flat)[:] = np.clip(rgb, 0, 255).astype(np.uint8)
    pygame.surfarray.pixels_alpha(flat)[:] = alpha
    return cut_out(flat, side_px, Cut(lift=3.0, shadow=0.45, grain=4.0, rim=30.0))


def heights_of(profile: tuple[float, ...], target: float) -> Field:
    """How far out the glass reaches over the repetition, 0..1 between hub and rim; level where nothing is known."""
    if not profile or target <= 0:
        return np.full(48, 1 / REACH)
    return np.clip(np.asarray(profile, dtype=np.float64) / (REACH * target), 0.0, 1.0)


def _painted(side: int, heights: Field, design: Design) -> tuple[Field, NDArray[np.uint8]]:
    """Colours (side, side, 3) and alpha."""
    axis = (np.arange(side) + 0.5) / side * 2 - 1
    x, y = np.meshgrid(axis, axis, indexing="ij")
    radius, around = np.hypot(x, y), np.arctan2(x, -y) / (2 * np.pi) % 1.0
    place = around * design.folds % 1.0
    moment = 1 - np.abs(2 * place - 1)  # each petal is the effort there and back
    edge = np.interp(moment, np.linspace(0, 1, heights.size), heights)
    out = (radius / RIM - HUB) / (1 - HUB)  # 0 at the hub, 1 at the frame
    rgb = np.empty((side, side, 3))
    rgb[:] = NIGHT
    petal = np.floor(around * design.folds)
    rgb[(np.floor(around * 4 * design.folds) % 2 == 0)] = np.asarray(NIGHT) * 1.25
    inside = out <= edge
    rgb[inside] = _panes(out / np.maximum(edge, 1e-6), moment, petal, design)[inside]
    rgb *= (1.12 - 0.3 * np.clip(out, 0, 1))[..., None]  # the lamp stands behind the hub
    across = np.abs(place - 0.5) * 2 * np.pi / design.folds * radius  # distance from a petal's middle
    seam = np.abs(place - np.round(place)) * 2 * np.pi / design.folds * radius
    lead = (
        (np.abs(out - edge) < 1.5 * LINE)
        | ((seam < 0.6 * LINE) & inside)
        | ((across < 0.5 * LINE) & inside & (out > 0.45 * edge))
    )
    lead |= np.abs(radius / RIM - HUB) < LINE
    rgb[lead] = LEAD
    hub = radius / RIM < HUB - LINE
    rgb[hub] = np.asarray(design.melt.glass[0]) * 1.05
    rgb[hub & (radius / RIM < 0.45 * HUB)] = design.melt.glass[2]
    frame = radius >= RIM
    rgb[frame] = OAK
    rgb[frame & (radius < RIM + 0.035)] = LEAD
    rgb[frame & (np.abs(radius - 0.94) < 0.018)] = OAK_LIGHT
    return rgb, ((radius <= 1.0) * 255).astype(np.uint8)


def _panes(share: Field, moment: Field, petal: Field, design: Design) -> Field:
    """The colour of the glass at a share of the way from hub to edge, by how the panes are cut."""
    shift = {
        "rays": 0.0 * moment,
        "tiles": 0.12 * (np.floor(moment * 4) % 2),
        "scales": 0.14 * np.abs(np.mod(moment * 3, 1) - 0.5),
        "rings": 0.05 * np.sin(moment * 9),
        "lattice": 0.18 * np.abs(np.mod(moment * 2 + share, 1) - 0.5),
        "drops": 0.2 * (moment - 0.5) ** 2 * 4,
    }[design.tracery]
    at = np.clip(share - shift, 0.0, 0.999) * 4
    ring = at.astype(int)
    turned = (ring + (petal.astype(int) % 2) * (design.tracery in ("tiles", "lattice"))) % 4
    rgb = np.asarray(design.melt.glass, dtype=np.float64)[turned]
    rgb = rgb * (0.93 + 0.14 * np.mod(at, 1))[..., None]
    seam = (np.mod(at, 1) < 0.09) & (ring > 0)
    rgb[seam] = LEAD
    return np.asarray(rgb)
