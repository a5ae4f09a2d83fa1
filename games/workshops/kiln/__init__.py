"""The kiln: effort is the heat; held within the band it fires a pot."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *(
        "far",
        "village",
        "yard",
        "front",
        "chamber",
        "embers",
        "prop",
        "kiln",
        "stones_lit",
        "damper_low",
        "damper_high",
    ),
    *("flame_outer", "flame_middle", "flame_inner", "potter", "potter_arm", "bellows", "bellows_board", "apprentice"),
    *("apprentice_arm", "apprentice_crutch_arm", "cat", "cat_tail", "lantern", "puff", "leaf"),
)

WORKSHOP = Workshop(
    name="kiln",
    kinds=("hold",),
    rules=begun_by(__name__, "rules.KilnRules"),
    picture=later(__name__, "picture.KilnPicture"),
    draw_product=later(__name__, "pots.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(
        box=(556, 280, 204, 276),
        sheet="village/kiln",
        lit="village/kiln-lit",
        lamps=((655, 515, 210, "lamp-deep", 0.75), (655, 270, 90, "lamp-deep", 0.25)),
        chimney=(655, 272, 1.0),
        flicker=(655, 520, 120),
    ),
    door=Door("leaves", (548, 272, 184, 368), "iron", (66, 62, 74), (38, 36, 48)),
    art=tuple(f"kiln/{name}.svg" for name in ART),
)
