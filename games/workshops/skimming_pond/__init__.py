"""The skimming pond: a brisk effort draws the arm back, letting go throws, and the rings are kept as a print."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

# Everything the picture opens with, so that a screen can bake it beforehand.
ART = (
    *("far", "shore", "water", "near", "willow", "front", "stage", "lantern", "line"),
    *("reed_low", "reed_high", "sedge", "sedge_lit", "tuft", "stone", "skimmer", "skimmer_body", "skimmer_arm"),
    *("child", "child_arm", "heron", "heron_neck", "lily", "lily_flower", "duck", "cairn", "swan", "otter", "raft"),
)

WORKSHOP = Workshop(
    name="skimming_pond",
    kinds=("quick",),
    rules=begun_by(__name__, "rules.PondRules"),
    picture=later(__name__, "picture.PondPicture"),
    draw_product=later(__name__, "prints.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(box=(84, 556, 420, 134), name=(502, 674), lamps=((330, 634, 200, "moon", 0.25),)),
    door=Door("drifts", (90, 250, 960, 330), "folds", (150, 152, 196), (110, 112, 150)),
    art=tuple(f"skimming_pond/{name}.svg" for name in ART),
)
