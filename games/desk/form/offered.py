"""What the form offers instead of free text: muscles with their places, titles, new exercises, patterns. Pure.

Because everything is chosen from here, there is nowhere in the form that a name, a birth date or an address could go.
The figures of a new exercise stand with its kind in `games/engine/kinds.py`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.workshops import fitting

PATTERNS: tuple[tuple[float, ...], ...] = (
    (0.4, 0.7, 1.0, 0.7, 0.4),
    (0.5, 0.8, 1.0, 0.8, 0.5),
    (0.4, 0.6, 0.8, 1.0),
    (0.5, 0.5, 1.0, 1.0, 0.5, 0.5),
    (0.4, 0.8, 0.5, 1.0, 0.5, 0.8, 0.4),
)

OFFERED_KINDS = tuple(OF_KIND)


@dataclass(frozen=True)
class KnownMuscle:
    """A muscle that can be added. `placements` by language."""

    key: str
    name: str
    placements: Mapping[str, str]

    def placement(self, language: str) -> str:
        return self.placements.get(language[:2], self.placements["en"])


@cache
def known_muscles() -> tuple[KnownMuscle, ...]:
    """In the order of a walk over the body."""
    text = files("musclewood.assets").joinpath("desk", "muscles.toml").read_text("utf-8")
    return tuple(
        KnownMuscle(key, entry["name"], {language: entry[language] for language in ("en", "de")})
        for key, entry in tomllib.loads(text).items()
    )


def titles(kind: str, language: str, now: str) -> tuple[str, ...]:
    """What an exercise of this kind may be called, in the patient's language; what it is called now among them."""
    offered = _titles(kind, language[:2])
    return offered if now in offered else (now, *offered)


@cache
def _titles(kind: str, language: str) -> tuple[str, ...]:
    words = Words(language)
    keys = (f"desk.titles.{kind}.{letter}" for letter in "abcdefghijkl")
    return tuple(words(key) for key in keys if words.has(key))


def in_language(document: Mapping[str, Any], language: str) -> dict[str, Any]:
    """The tables of an order with the titles and places that are offered here said in another language."""
    exercises = tuple({**one, "title": _title_in(one, language)} for one in document["exercises"])
    muscles = tuple({**one, "placement": _place_in(one, language)} for one in document["muscles"])
    return {**document, "exercises": exercises, "muscles": muscles}


def _title_in(exercise: Mapping[str, Any], language: str) -> str:
    for known in LANGUAGES:
        listed = _titles(exercise["kind"], known)
        if exercise["title"] in listed:
            return _titles(exercise["kind"], language[:2])[listed.index(exercise["title"])]
    return str(exercise["title"])


def _place_in(muscle: Mapping[str, Any], language: str) -> str:
    now = str(muscle["placement"])
    return next((one.placement(language) for one in known_muscles() if now in one.placements.values()), now)


def new_muscle(known: KnownMuscle, language: str, muscles: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The table of a muscle on the side and channel that are free."""
    sides = [one["side"] for one in muscles if one["name"] == known.name]
    usual = muscles[0]["side"] if muscles else None
    side = usual if usual not in sides or usual is None else ("left" if usual == "right" else "right")
    channels = {one["channel"] for one in muscles}
    return {
        "id": _free(known.key[:29], [one["id"] for one in muscles]),
        "name": known.name,
        "side": side,
        "role": "involved" if not muscles else "uninvolved" if sides else "opposite",
        "placement": known.placement(language),
        "channel": next(channel for channel in range(17) if channel not in channels),
    }


def new_exercise(
    kind: str, language: str, muscles: Sequence[Mapping[str, Any]], taken: Iterable[str]
) -> dict[str, Any]:
    """The table of an exercise of this kind for the muscles there are."""
    return {
        "id": _free(kind, list(taken)),
        "title": _titles(kind, language[:2])[0],
        "kind": kind,
        "workshops": fitting(kind),
        "muscles": _muscles_for(kind, muscles),
        **OF_KIND[kind].dose,
        "effort": dict(OF_KIND[kind].effort),
        "scaling": {"on": True, "success_target": 0.8, "step_pct_mvc": 2.0},
    }


def _muscles_for(kind: str, muscles: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """The involved muscle first; its partner is the opposite one, or the same one on the other side."""
    ordered = sorted(muscles, key=lambda one: one["role"] != "involved")
    traits = OF_KIND[kind].traits
    if traits.muscles == 1 or len(ordered) < 2:
        return tuple(one["id"] for one in ordered[:1])
    partner = next((one for one in ordered[1:] if one["role"] == traits.partner), ordered[1])
    return ordered[0]["id"], partner["id"]


def _free(name: str, taken: Sequence[str]) -> str:
    return next(one for one in (name, *(f"{name}-{number}" for number in range(2, 99))) if one not in taken)
