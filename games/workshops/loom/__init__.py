"""The loom: a cloth grows from below, effort says how wide its figure is woven."""

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
        "frame",
        "rail",
        "warp_beam",
        "batten",
        "shuttle",
        "mark",
        "fluff",
    ),
    *("weaver", "weaver_arm", "sheep", "sheep_head", "winder", "winder_arm", "swift", "lantern", "leaf"),
)

WORKSHOP = Workshop(
    name="loom",
    kinds=("track",),
    rules=begun_by(__name__, "rules.LoomRules"),
    picture=later(__name__, "picture.LoomPicture"),
    draw_product=later(__name__, "bands.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(
        box=(258, 306, 236, 226),
        name=(350, 552),
        sheet="village/loom",
        lit="village/loom-lit",
        lamps=((346, 474, 150, "lamp-deep", 0.5), (380, 398, 70, "lamp-deep", 0.35)),
        chimney=(436, 296, 0.6),
    ),
    door=Door("falls", (452, 262, 398, 312), "sheets", (214, 200, 172), (150, 132, 110)),
    art=tuple(f"loom/{name}.svg" for name in ART),
)
