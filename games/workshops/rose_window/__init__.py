"""The rose window: an arm goes once round the wheel, effort says how far out glass is set in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.rose_window.rules import RoseRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.rose_window.picture import RosePicture

    return RosePicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.rose_window.roses import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.rose_window.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "village", "yard", "front", "back", "wheel", "trammel", "slider", "crank", "doves", "shard"),
    *("glazier", "glazier_arm", "girl", "girl_arm", "lantern", "leaf"),
)

WORKSHOP = Workshop(
    name="rose_window",
    kinds=("track",),
    rules=RoseRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(
        box=(770, 324, 94, 106),
        sheet="village/rose_window",
        lit="village/rose_window-lit",
        lamps=((816, 374, 80, "lamp-deep", 0.4),),
    ),
    door=Door("leaves", (448, 224, 388, 388), "planks", (122, 92, 66), (74, 54, 46)),
    art=tuple(f"rose_window/{name}.svg" for name in ART),
)
