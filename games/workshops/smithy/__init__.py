"""The smithy: a brisk effort lifts the drop hammer, letting go fully makes it fall; so a key is struck."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.smithy.rules import SmithyRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.smithy.picture import SmithyPicture

    return SmithyPicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.smithy.keys import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.smithy.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *(
        "far",
        "village",
        "yard",
        "coals",
        "front",
        "frame",
        "block",
        "hammer",
        "mark_low",
        "mark_high",
        "pulley",
        "puff",
    ),
    *("jackdaw", "jackdaw_up", "smith", "arm", "arm_far", "elder", "elder_arm", "walker", "bellows", "lantern", "leaf"),
)

WORKSHOP = Workshop(
    name="smithy",
    kinds=("quick",),
    rules=SmithyRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(
        box=(1008, 540, 170, 114),
        sheet="village/smithy",
        lit="village/smithy-lit",
        lamps=((1090, 628, 110, "lamp-deep", 0.5),),
        chimney=(1136, 530, 0.6),
        flicker=(1090, 634, 60),
    ),
    door=Door("falls", (512, 186, 216, 440), "folds", (112, 66, 52), (66, 40, 38)),
    art=tuple(f"smithy/{name}.svg" for name in ART),
)
