"""Colours by name, from assets/palette.toml."""

import tomllib
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

Colour = tuple[int, int, int]
Hour = Literal["dusk", "night", "dawn"]
HOURS: tuple[Hour, ...] = ("dusk", "night", "dawn")
Season = Literal["spring", "summer", "autumn", "winter"]
SEASONS: tuple[Season, ...] = ("spring", "summer", "autumn", "winter")


@dataclass(frozen=True)
class Palette:
    """All colours: those of paper and wood, the accents, those that change with the hour, and tints of the season."""

    paper: Mapping[str, Colour]
    accent: Mapping[str, Colour]
    skin: Mapping[str, Colour]
    hours: Mapping[str, Mapping[str, Colour]]
    skies: Mapping[str, tuple[Colour, ...]]
    tints: Mapping[Season, Mapping[str, tuple[Colour, float]]]

    def named(self, hour: Hour, season: Season | None = None) -> dict[str, Colour]:
        """Every name a picture may use in `var(--name)` at this hour; a season tints what grows."""
        skin = {f"skin-{name}": colour for name, colour in self.skin.items()}
        colours = {**self.accent, **self.paper, **skin, **self.hours[hour]}
        tinted = self.tints[season].items() if season else ()
        return colours | {name: mixed(colours[name], tint, share) for name, (tint, share) in tinted}


@cache
def palette() -> Palette:
    """The program's one palette."""
    table = tomllib.loads(files("musclewood.assets").joinpath("palette.toml").read_text("utf-8"))
    hours = {
        hour: {name: colour(value) for name, value in entries.items() if name != "sky"}
        for hour, entries in table["hours"].items()
    }
    skies = {hour: tuple(colour(value) for value in entries["sky"]) for hour, entries in table["hours"].items()}
    flat = {part: {name: colour(value) for name, value in table[part].items()} for part in ("paper", "accent", "skin")}
    tints = {
        season: {name: (colour(tint), float(share)) for name, (tint, share) in table["seasons"][season].items()}
        for season in SEASONS
    }
    return Palette(flat["paper"], flat["accent"], flat["skin"], hours, skies, tints)


SKY_PLACES = (0.0, 0.25, 0.45, 0.65, 0.8, 0.92, 1.0)  # of a sky's colours: 0 is the top, 1 the horizon


def sky_at(hour: Hour, height: float) -> Colour:
    """The colour of the sky at a height between the top (0) and the horizon (1)."""
    colours = palette().skies[hour]
    below = max(1, bisect_left(SKY_PLACES, height))
    above_at, below_at = SKY_PLACES[below - 1 : below + 1]
    return between(colours[below - 1], colours[below], (height - above_at) / (below_at - above_at))


def between(first: Colour, second: Colour, share: float) -> Colour:
    """`share` 0 is the first colour, 1 the second; whole levels, rounded down as numpy does."""
    red, green, blue = (int(a + (b - a) * share) for a, b in zip(first, second, strict=True))
    return red, green, blue


def colour(text: str) -> Colour:
    """'#RRGGBB' as three numbers 0-255."""
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def hexadecimal(value: Colour) -> str:
    """Three numbers 0-255 as '#RRGGBB'."""
    return "#{:02X}{:02X}{:02X}".format(*value)


def mixed(first: Colour, second: Colour, share: float) -> Colour:
    """`share` 0 is the first colour, 1 the second."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(first, second, strict=True))
    return red, green, blue
