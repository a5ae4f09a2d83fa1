"""The hide: the quieter the muscle, the nearer shy animals come, to be sketched."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.hide.rules import HideRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.hide.picture import HidePicture

    return HidePicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.hide.sketches import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.hide.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand; animals are baked when they come.
ART = (
    *("far", "wood", "clearing", "stones", "stones_lit", "thicket", "birches", "screen", "watcher", "watcher_arm"),
    *("hand", "book", "reed_left", "reed_right", "harebell", "front", "tuft", "lantern", "peg", "leaf"),
)

WORKSHOP = Workshop(
    name="hide",
    kinds=("relax",),
    rules=HideRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(
        box=(30, 318, 190, 190),
        sheet="village/hide",
        lit="village/hide-lit",
        lamps=((112, 401, 110, "lamp-deep", 0.45),),
    ),
    door=Door("falls", (516, 352, 450, 300), "reeds", (122, 112, 78), (82, 74, 52)),
    art=tuple(f"hide/{name}.svg" for name in ART),
)
