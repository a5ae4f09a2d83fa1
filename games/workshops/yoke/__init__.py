"""The yoke: each side lifts its pail; alike and within the band, both are carried over the bridge."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

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
    rules=begun_by(__name__, "rules.YokeRules"),
    picture=later(__name__, "picture.YokePicture"),
    draw_product=later(__name__, "pails.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(box=(722, 490, 242, 150), name=(965, 518), lamps=((842, 560, 150, "lamp-deep", 0.3),)),
    door=Door("falls", (250, 238, 700, 330), "sheets", (226, 222, 214), (120, 118, 140)),
    art=tuple(f"yoke/{name}.svg" for name in ART),
)
