"""Imports point one way: between modules, between folders, between rooms. The map below is the
order to read them in."""

from __future__ import annotations

import ast
import graphlib
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

from tests.house.source import HOUSE, nodes

ROOMS = ("signal", "profiles", "games", "assets")
# No folder holds more modules than somebody can look over at once (our choice).
MOST_MODULES = 20

# Every folder with code, lowest first: each may import what stands above it in this list, and nothing below.
# Workshops share a line: they do not know each other at all.
LAYERS = (
    "assets",
    "signal",
    "signal/stream",
    "signal/measures",
    "signal/quality",
    "signal/recordings",
    "signal/simulation",
    "signal/sensors",
    "signal/sources",
    "profiles",
    "profiles/disk",
    "profiles/orders",
    "profiles/journal",
    "profiles/plan",
    "profiles/visits",
    "profiles/trust",
    "profiles/handover",
    "profiles/report",
    "profiles/exchange",
    "profiles/home",
    "profiles/caseload",
    "profiles/clinic",
    "games/kit",
    "games/sound",
    "games/engine",
    "games/examining",
    "games/workshops",
    "games/workshops/*",
    "games/running",
    "games/home",
    "games/screens/base",
    "games/screens/session",
    "games/screens/setup",
    "games/screens/village",
    "games/screens",
    "games/desk/base",
    "games/desk/bench",
    "games/desk/form",
    "games/desk/pages",
    "games/desk",
    "games/gallery",
    "games/commands",
    "games",
)


def modules() -> dict[str, Path]:
    """Every module of the house by its import name."""
    found = {}
    for room in ROOMS:
        for path in sorted((HOUSE / room).rglob("*.py")):
            parts = path.relative_to(HOUSE).with_suffix("").parts
            found[".".join(("musclewood", *parts)).removesuffix(".__init__")] = path
    return found


@cache
def arrows() -> dict[str, set[str]]:
    """Who imports whom, wherever in a module the import stands."""
    known = modules()
    found: dict[str, set[str]] = {name: set() for name in known}
    for name, path in known.items():
        for node in nodes(path):
            if isinstance(node, ast.ImportFrom) and node.module:
                for alias in node.names:
                    whole = f"{node.module}.{alias.name}"
                    found[name].add(whole if whole in known else node.module)
            elif isinstance(node, ast.Import):
                found[name].update(alias.name for alias in node.names)
        found[name] &= known.keys() - {name}
    return found


def layer(place: str) -> int:
    one_of_many = "games/workshops/*" if place.startswith("games/workshops/") else place
    assert one_of_many in LAYERS, f"{place} has no place in the map of layers"
    return LAYERS.index(one_of_many)


def circle(graph: dict[str, set[str]]) -> list[str]:
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        return list(error.args[1])
    return []


def test_no_module_imports_itself_through_others() -> None:
    assert circle(arrows()) == []


def test_no_folder_imports_itself_through_others() -> None:
    between: dict[str, set[str]] = defaultdict(set)
    place = {name: path.parent.relative_to(HOUSE).as_posix() for name, path in modules().items()}
    for name, targets in arrows().items():
        between[place[name]] |= {place[target] for target in targets} - {place[name]}
    assert circle(between) == []


def test_every_arrow_points_down_the_map() -> None:
    place = {name: path.parent.relative_to(HOUSE).as_posix() for name, path in modules().items()}
    wrong = [
        f"{name} -> {target}"
        for name, targets in arrows().items()
        for target in targets
        if place[name] != place[target] and layer(place[name]) < layer(place[target])
    ]
    assert not wrong


def test_workshops_do_not_know_each_other() -> None:
    """What two of them need lies in games/workshops itself."""
    room = "musclewood.games.workshops."
    wrong = [
        f"{name} -> {target}"
        for name, targets in arrows().items()
        for target in targets
        if name.startswith(room) and target.startswith(room)
        if _workshop(name) != _workshop(target) and _workshop(target)
    ]
    assert not wrong


def _workshop(module: str) -> str:
    """The folder of a workshop that a module lies in; '' for what all of them share."""
    parts = module.removeprefix("musclewood.games.workshops.").split(".")
    return parts[0] if (HOUSE / "games" / "workshops" / parts[0]).is_dir() else ""


def test_no_folder_is_too_full() -> None:
    held: dict[str, int] = defaultdict(int)
    for path in modules().values():
        held[path.parent.relative_to(HOUSE).as_posix()] += path.name != "__init__.py"
    assert not {place: number for place, number in held.items() if number > MOST_MODULES}


@pytest.mark.parametrize("graph", [{"a": {"b"}, "b": {"c"}, "c": {"a"}}])
def test_a_planted_circle_is_seen(graph: dict[str, set[str]]) -> None:
    assert circle(graph)
