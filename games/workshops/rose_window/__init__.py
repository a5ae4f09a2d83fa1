"""The rose window: an arm goes once round the wheel, effort says how far out glass is set in it."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "village", "yard", "front", "back", "wheel", "trammel", "slider", "crank", "doves", "shard"),
    *("glazier", "glazier_arm", "girl", "girl_arm", "lantern", "leaf"),
)

WORKSHOP = Workshop(
    name="rose_window",
    kinds=("track",),
    rules=begun_by(__name__, "rules.RoseRules"),
    picture=later(__name__, "picture.RosePicture"),
    draw_product=later(__name__, "roses.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(
        box=(770, 324, 94, 106),
        sheet="village/rose_window",
        lit="village/rose_window-lit",
        lamps=((816, 374, 80, "lamp-deep", 0.4),),
    ),
    door=Door("leaves", (448, 224, 388, 388), "planks", (122, 92, 66), (74, 54, 46)),
    art=tuple(f"rose_window/{name}.svg" for name in ART),
)
