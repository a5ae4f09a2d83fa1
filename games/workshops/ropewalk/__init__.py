"""The rope walk: effort hauls the rope tight; held between the bars, the strands are laid into one."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "village", "yard", "front", "pulley", "mark_low", "mark_high", "basket", "hen", "hen_wing", "hen_wing_up"),
    *("top", "hooks", "maker", "boy", "boy_arm", "dog", "lantern", "leaf", "fibre"),
)

WORKSHOP = Workshop(
    name="ropewalk",
    kinds=("hold",),
    rules=begun_by(__name__, "rules.RopeRules"),
    picture=later(__name__, "picture.RopePicture"),
    draw_product=later(__name__, "coils.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(
        box=(586, 608, 280, 84),
        sheet="village/ropewalk",
        lit="village/ropewalk-lit",
        lamps=((726, 664, 110, "lamp-deep", 0.3),),
    ),
    door=Door("falls", (516, 232, 244, 300), "folds", (176, 120, 84), (116, 74, 60)),
    art=tuple(f"ropewalk/{name}.svg" for name in ART),
)
