"""The smithy: a brisk effort lifts the drop hammer, letting go fully makes it fall; so a key is struck."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

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
    rules=begun_by(__name__, "rules.SmithyRules"),
    picture=later(__name__, "picture.SmithyPicture"),
    draw_product=later(__name__, "keys.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
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
