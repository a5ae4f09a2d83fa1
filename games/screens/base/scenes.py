"""The landscapes behind the screens, each a list of paper sheets and lamps."""

from collections.abc import Collection

from musclewood.games.kit.canvas import Box, Point
from musclewood.games.kit.palette import SEASONS, Hour, Season
from musclewood.games.screens.base.scenery import Glow, Scene
from musclewood.games.workshops import workshops

# Where each place can be pressed, and where its name hangs; from left to right, as keys walk through them.
PLACE_BOXES: dict[str, Box] = dict(
    sorted(((name, Box(*workshop.house.box)) for name, workshop in workshops().items()), key=lambda one: one[1].left)
)
PLACES = tuple(PLACE_BOXES)


def name_spot(place: str) -> Point:
    """Where the upper middle of a place's name is: on ground that nobody stands on, whatever
    the village has come to."""
    box = PLACE_BOXES[place]
    return workshops()[place].house.name or (box.centre[0], box.bottom + 4)


WEEKS_A_SEASON = 2
GUESTS = 12  # sheets of assets/art/village; another one every week

# What lies on the land before the houses stand on it, and what lies on everything.
_ON_THE_LAND = {"spring": "village/season-spring", "summer": "village/season-summer", "autumn": "village/season-autumn",
                "winter": "village/season-winter-land"}  # fmt: skip
_ON_THE_ROOFS = {"winter": "village/season-winter"}


def season_of(weeks: int) -> Season:
    """The season after so many weeks of the plan.  It moves with the calendar alone, never with what was done."""
    return SEASONS[max(weeks, 0) // WEEKS_A_SEASON % len(SEASONS)]


def guest_of(weeks: int) -> int:
    """The animal or toy that visits the village in this week of the plan, from 1; with the season, no week is like
    another."""
    return max(weeks, 0) % GUESTS + 1


def village(
    hour: Hour,
    awake: Collection[str],
    season: Season = "spring",
    built: Collection[tuple[int, int]] = (),
    guest: int | None = None,
) -> Scene:
    """The makers' village; `awake` are the places with a light in the window, `built` the
    wishes that were fulfilled."""
    houses: list[str | Glow] = []
    lamps: list[Glow] = []
    for place in PLACES:
        house = workshops()[place].house
        houses += [house.sheet] if house.sheet else []
        if place in awake:
            houses += [house.lit] if house.lit else []
            lamps += [Glow(*lamp) for lamp in house.lamps]
    moon: list[str | Glow] = ["village/moon", Glow(872, 208, 170, "moon", 0.2)]
    sun: list[str | Glow] = ["village/sun", Glow(760, 330, 260, "sun", 0.3)]
    layers: list[str | Glow] = ["village/clouds", *(sun if hour == "dawn" else moon)]
    layers += ["village/hills", "village/wood", "village/meadow", "village/brook", _ON_THE_LAND[season]]
    layers += ["village/deer", *houses]
    layers += [f"village/wish-{wish}-{step}" for wish, step in built]
    layers += [f"village/guest-{guest}"] if guest else []
    layers += ["village/tufts", "village/people", "village/bridge", "village/carrier", "village/cat"]
    layers += [_ON_THE_ROOFS[season]] if season in _ON_THE_ROOFS else []
    layers += lamps
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
