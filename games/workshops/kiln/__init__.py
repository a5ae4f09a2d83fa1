"""The kiln: effort is the heat; held within the band it fires a pot."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from musclewood.games.workshops import DrawProduct, Picture, Stage, Workshop
from musclewood.games.workshops.kiln.rules import KilnRules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def _picture() -> Callable[[Stage], Picture]:
    from musclewood.games.workshops.kiln.picture import KilnPicture

    return KilnPicture


def _draw_product() -> DrawProduct:
    from musclewood.games.workshops.kiln.pots import draw_product

    return draw_product


def _voices() -> Mapping[str, Callable[[], NDArray[np.float32]]]:
    from musclewood.games.workshops.kiln.sounds import VOICES

    return VOICES


WORKSHOP = Workshop(
    name="kiln",
    kinds=("hold",),
    rules=KilnRules,
    picture=_picture,
    draw_product=_draw_product,
    voices=_voices,
    art=tuple(
        f"kiln/{name}.svg" for name in ("far", "village", "yard", "kiln", "chamber", "potter", "apprentice", "front")
    ),
)
