"""The landscapes behind the screens, each a list of paper sheets and lamps."""

from collections.abc import Collection

from musclewood.games.kit.canvas import Box
from musclewood.games.kit.palette import SEASONS, Hour, Season
from musclewood.games.screens.base.scenery import Glow, Scene

PLACES = ("hide", "loom", "kiln", "yoke", "skimming_pond", "millrace")  # from left to right

# Where each place can be pressed, and where its name hangs.
PLACE_BOXES: dict[str, Box] = {
    "hide": Box(30, 318, 190, 190),
    "loom": Box(258, 306, 236, 226),
    "kiln": Box(556, 280, 204, 276),
    "yoke": Box(722, 490, 242, 150),
    "skimming_pond": Box(84, 556, 420, 134),
    "millrace": Box(902, 244, 300, 282),
}

_LAMPS: dict[str, tuple[Glow, ...]] = {
    "kiln": (Glow(655, 515, 210, "lamp-deep", 0.75), Glow(655, 270, 90, "lamp-deep", 0.25)),
    "loom": (Glow(346, 474, 150, "lamp-deep", 0.5), Glow(380, 398, 70, "lamp-deep", 0.35)),
    "millrace": (Glow(1080, 452, 90, "lamp-deep", 0.4), Glow(1080, 378, 130, "lamp-deep", 0.4)),
    "hide": (Glow(112, 401, 110, "lamp-deep", 0.45),),
    "yoke": (Glow(842, 560, 150, "lamp-deep", 0.3),),
    "skimming_pond": (Glow(330, 634, 200, "moon", 0.25),),
}
_LIT_SHEETS = {
    "kiln": "village/kiln-lit",
    "loom": "village/loom-lit",
    "millrace": "village/mill-lit",
    "hide": "village/hide-lit",
}


WEEKS_A_SEASON = 2

# What lies on the land before the houses stand on it, and what lies on everything.
_ON_THE_LAND = {"spring": "village/season-spring", "summer": "village/season-summer", "autumn": "village/season-autumn",
                "winter": "village/season-winter-land"}  # fmt: skip
_ON_THE_ROOFS = {"winter": "village/season-winter"}


def season_of(weeks: int) -> Season:
    """The season after so many weeks of the plan.  It moves with the calendar alone, never with what was done."""
    return SEASONS[max(weeks, 0) // WEEKS_A_SEASON % len(SEASONS)]


def village(hour: Hour, awake: Collection[str], season: Season = "spring") -> Scene:
    """The makers' village; `awake` are the places with a light in the window."""
    lit = [place for place in PLACES if place in awake]
    houses: list[str | Glow] = []
    for place, sheet in (("hide", "hide"), ("loom", "loom"), ("kiln", "kiln"), ("millrace", "mill")):
        houses.append(f"village/{sheet}")
        if place in lit:
            houses.append(_LIT_SHEETS[place])
    moon: list[str | Glow] = ["village/moon", Glow(872, 208, 170, "moon", 0.2)]
    sun: list[str | Glow] = ["village/sun", Glow(760, 330, 260, "sun", 0.3)]
    layers: list[str | Glow] = ["village/clouds", *(sun if hour == "dawn" else moon)]
    layers += ["village/hills", "village/wood", "village/meadow", "village/brook", _ON_THE_LAND[season]]
    layers += ["village/deer", *houses]
    layers += ["village/tufts", "village/people", "village/bridge", "village/carrier", "village/cat"]
    layers += [_ON_THE_ROOFS[season]] if season in _ON_THE_ROOFS else []
    layers += [lamp for place in lit for lamp in _LAMPS[place]]
    stars = 40 if hour != "dawn" else 0
    return Scene(hour, tuple(layers), stars=stars, season=season, near=("village/front", "village/bough"))


# The maker's bench by the window: for questions, settings and drawings.
BENCH = Scene(
    "dusk",
    (
        "bench/wall",
        Glow(1086, 190, 330, "lamp-deep", 0.42),
        "bench/cat",
        "bench/table",
        "bench/things",
        Glow(1086, 180, 120, "lamp", 0.35),
    ),
)

# The pool at night below the lantern tree: for listening, resting and the greatest effort.
POOL = Scene(
    "night",
    ("pool/shore", "pool/water", "pool/tree"),
    horizon=0.62,
    stars=110,
    near=("pool/front",),
)

SHELF = Scene("dusk", ("shelf/boards", Glow(640, 120, 560, "lamp-deep", 0.3)))
