"""The skimming pond: a brisk effort draws the arm back, letting go throws, and the rings are kept as a print."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, House, Picture, PictureSetup, Workshop
from musclewood.games.workshops.doors import Door
from musclewood.games.workshops.skimming_pond.rules import PondRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[PictureSetup], Picture]:
    from musclewood.games.workshops.skimming_pond.picture import PondPicture

    return PondPicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.skimming_pond.prints import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.skimming_pond.sounds import VOICES

    return VOICES


# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "shore", "water", "near", "willow", "front", "stage", "lantern", "line"),
    *("reed_low", "reed_high", "sedge", "sedge_lit", "tuft", "stone", "skimmer", "skimmer_body", "skimmer_arm"),
    *("child", "child_arm", "heron", "heron_neck", "lily", "lily_flower", "duck", "cairn", "swan", "otter", "raft"),
)

WORKSHOP = Workshop(
    name="skimming_pond",
    kinds=("quick",),
    rules=PondRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    house=House(box=(84, 556, 420, 134), lamps=((330, 634, 200, "moon", 0.25),)),
    door=Door("drifts", (230, 250, 900, 330), "folds", (150, 152, 196), (110, 112, 150)),
    art=tuple(f"skimming_pond/{name}.svg" for name in ART),
)
