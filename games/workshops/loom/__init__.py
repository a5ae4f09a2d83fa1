"""The loom: a cloth grows from below, effort says how wide its figure is woven."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.loom.rules import LoomRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.loom.picture import LoomPicture

    return LoomPicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.loom.bands import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.loom.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *(
        "far",
        "village",
        "yard",
        "front",
        "frame",
        "rail",
        "warp_beam",
        "batten",
        "shuttle",
        "mark",
        "fluff",
    ),
    *("weaver", "weaver_arm", "sheep", "sheep_head", "winder", "winder_arm", "swift", "lantern", "leaf"),
)

WORKSHOP = Workshop(
    name="loom",
    kinds=("track",),
    rules=LoomRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(
        box=(258, 306, 236, 226),
        sheet="village/loom",
        lit="village/loom-lit",
        lamps=((346, 474, 150, "lamp-deep", 0.5), (380, 398, 70, "lamp-deep", 0.35)),
        chimney=(436, 296, 0.6),
    ),
    door=Door("falls", (452, 262, 398, 312), "sheets", (214, 200, 172), (150, 132, 110)),
    art=tuple(f"loom/{name}.svg" for name in ART),
)
