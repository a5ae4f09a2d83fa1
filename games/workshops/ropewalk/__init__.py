"""The rope walk: effort hauls the rope tight; held between the bars, the strands are laid into one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.ropewalk.rules import RopeRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.ropewalk.picture import RopePicture

    return RopePicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.ropewalk.coils import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.ropewalk.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "village", "yard", "front", "pulley", "mark_low", "mark_high", "basket", "hen", "hen_wing", "hen_wing_up"),
    *("top", "hooks", "maker", "boy", "boy_arm", "dog", "lantern", "leaf", "fibre"),
)

WORKSHOP = Workshop(
    name="ropewalk",
    kinds=("hold",),
    rules=RopeRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(
        box=(586, 608, 280, 84),
        sheet="village/ropewalk",
        lit="village/ropewalk-lit",
        lamps=((726, 664, 110, "lamp-deep", 0.3),),
    ),
    door=Door("falls", (516, 232, 244, 300), "folds", (176, 120, 84), (116, 74, 60)),
    art=tuple(f"ropewalk/{name}.svg" for name in ART),
)
