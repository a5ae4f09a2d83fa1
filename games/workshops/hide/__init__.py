"""The hide: the quieter the muscle, the nearer shy animals come, to be sketched."""

from __future__ import annotations

from musclewood.games.workshops import House, Workshop, begun_by, later
from musclewood.games.workshops.doors import Door

# Everything the picture opens with, so that a screen can bake it beforehand; animals are baked when they come.
ART = (
    *("far", "wood", "clearing", "stones", "stones_lit", "thicket", "birches", "screen", "watcher", "watcher_arm"),
    *("hand", "book", "reed_left", "reed_right", "harebell", "front", "tuft", "lantern", "peg", "leaf"),
)

WORKSHOP = Workshop(
    name="hide",
    kinds=("relax",),
    rules=begun_by(__name__, "rules.HideRules"),
    picture=later(__name__, "picture.HidePicture"),
    draw_product=later(__name__, "sketches.draw_product"),
    voices=later(__name__, "sounds.VOICES"),
    house=House(
        box=(30, 318, 190, 190),
        name=(192, 520),
        sheet="village/hide",
        lit="village/hide-lit",
        lamps=((112, 401, 110, "lamp-deep", 0.45),),
    ),
    door=Door("falls", (516, 352, 450, 300), "reeds", (122, 112, 78), (82, 74, 52)),
    art=tuple(f"hide/{name}.svg" for name in ART),
)
