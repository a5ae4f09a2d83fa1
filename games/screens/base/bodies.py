"""Where the pads go: sites on a drawn body, by muscle, from assets/art/body. Pure but for the file."""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from musclewood.games.kit.canvas import Point

MIDDLE = 150.0  # the drawing's axis of symmetry


@dataclass(frozen=True)
class Site:
    """view: 'front' or 'back'; at: middle of the two pads on the drawing; turn_deg: from upright, clockwise."""

    view: str
    at: Point
    turn_deg: float


@cache
def _table() -> dict[str, dict[str, dict[str, object]]]:
    text = files("musclewood.assets").joinpath("art", "body", "sites.toml").read_text("utf-8")
    return tomllib.loads(text)


def known_muscles() -> tuple[str, ...]:
    """Names of all muscles whose site is drawn."""
    return tuple(_table()["sites"])


def site_of(muscle: str, side: str) -> Site | None:
    """The site of a muscle named in any usual way ('Vastus medialis', 'vastus_medialis_left'); None if not drawn.

    From the front the body's left side is on the right of the drawing, from the back on the left.
    """
    letters = re.sub(r"[^a-z]+", "-", muscle.lower())
    name = next((known for known in known_muscles() if known in letters), None)
    if name is None:
        return None
    entry = _table()["sites"][name]
    view = str(entry["view"])
    marks = _table()["landmarks"][view]
    (ax, ay), (bx, by) = _point(marks[str(entry["from"])]), _point(marks[str(entry["to"])])
    share, turn = float(str(entry["share"])), float(str(entry["turn"]))
    at = (ax + (bx - ax) * share, ay + (by - ay) * share)
    if (side == "left") != (view == "back"):
        return Site(view, (2 * MIDDLE - at[0], at[1]), -turn)
    return Site(view, at, turn)


@cache
def _places() -> dict[str, dict[str, str]]:
    return tomllib.loads(files("musclewood.assets").joinpath("desk", "muscles.toml").read_text("utf-8"))


def lay_place(placement: str, language: str) -> str | None:
    """A place in everyday words for one in the trade's; None where the therapist wrote another
    one, which then holds."""
    found = next((entry for entry in _places().values() if placement in (entry["en"], entry["de"])), None)
    return found.get(f"lay_{language[:2]}", found["lay_en"]) if found else None


def _point(value: object) -> Point:
    assert isinstance(value, list)
    return float(value[0]), float(value[1])
