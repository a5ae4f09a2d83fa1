"""The millrace: one muscle lets the water in, its opposite would close the sluice; while the race runs, flour is
ground."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

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
    rules=begun_by(__name__, "rules.MillraceRules"),
    picture=later(__name__, "picture.MillracePicture"),
    draw_product=later(__name__, "sacks.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(
        box=(902, 244, 300, 282),
        name=(1192, 524),
        sheet="village/mill",
        lit="village/mill-lit",
        lamps=((1080, 452, 90, "lamp-deep", 0.4), (1080, 378, 130, "lamp-deep", 0.4)),
    ),
    door=Door("leaves", (246, 300, 300, 332), "planks", (104, 78, 62), (66, 48, 42)),
    art=tuple(f"millrace/{name}.svg" for name in ART),
)
