"""The yoke: each side lifts its pail; alike and within the band, both are carried over the bridge."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.yoke.rules import YokeRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.yoke.picture import YokePicture

    return YokePicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.yoke.pails import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.yoke.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "slopes", "brook", "banks", "front", "spring", "rack", "plank", "post", "pennant", "cone"),
    *(
        "carrier_boots",
        "carrier_skirt",
        "carrier_torso",
        "carrier_head",
        "upper_arm",
        "forearm",
        "hand",
        "yoke",
        "pail",
        "knob",
        "knob_lit",
    ),
    *("drop", "elder", "elder_arm", "frame", "dog", "dog_tail"),
    *("struts", "beam", "balustrade", "lamps", "moss", "flowers", "piers", "gate_roof", "ivy", "bunting", "bird"),
    *("duckling", "kingfisher", "cat"),
)

WORKSHOP = Workshop(
    name="yoke",
    kinds=("paired",),
    rules=YokeRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(box=(722, 490, 242, 150), lamps=((842, 560, 150, "lamp-deep", 0.3),)),
    door=Door("falls", (250, 238, 700, 330), "sheets", (226, 222, 214), (120, 118, 140)),
    art=tuple(f"yoke/{name}.svg" for name in ART),
)
