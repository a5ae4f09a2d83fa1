"""The millrace: one muscle lets the water in, its opposite would close the sluice; while the race runs, flour is ground."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.millrace.rules import MillraceRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.millrace.picture import MillracePicture

    return MillracePicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.millrace.sacks import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.millrace.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "village", "yard", "flume", "mill", "leanto", "basin", "front"),
    *(
        "water_back",
        "water_front",
        "marks",
        "gate",
        "gate_frame",
        "wheel",
        "wheel_rim",
        "wheel_hub",
        "duck",
        "otter",
        "otter_head",
    ),
    *(
        "miller",
        "miller_arm",
        "cane",
        "helper",
        "helper_arm",
        "stone",
        "hopper",
        "chute",
        "sack_frame",
        "sack_limp",
        "sack_full",
    ),
    *("cart", "pallet", "cat", "cat_tail", "mouse", "bunting", "puff", "race", "spill", "foam"),
)

WORKSHOP = Workshop(
    name="millrace",
    kinds=("selective",),
    rules=MillraceRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(
        box=(902, 244, 300, 282),
        sheet="village/mill",
        lit="village/mill-lit",
        lamps=((1080, 452, 90, "lamp-deep", 0.4), (1080, 378, 130, "lamp-deep", 0.4)),
    ),
    door=Door("leaves", (246, 300, 300, 332), "planks", (104, 78, 62), (66, 48, 42)),
    art=tuple(f"millrace/{name}.svg" for name in ART),
)
