"""Who comes to the hide, and from which sketch on. Pure: places on the shelf in, names out."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import lru_cache

BLOCK = 256  # meetings are drawn so many at a time


@dataclass(frozen=True)
class Visitor:
    """A kind of animal. from_count: sketches on the shelf before it may come; colour: the wash in its sketch."""

    name: str
    colour: tuple[int, int, int]
    from_count: int


VISITORS = (
    Visitor("hedgehog", (184, 142, 104), 0),
    Visitor("robin", (226, 110, 54), 0),
    Visitor("hare", (196, 156, 108), 0),
    Visitor("squirrel", (212, 118, 62), 8),
    Visitor("fox", (222, 124, 60), 20),
    Visitor("owl", (168, 138, 104), 36),
    Visitor("badger", (140, 138, 156), 56),
    Visitor("doe", (206, 156, 102), 80),
    Visitor("stag", (170, 116, 84), 120),
    Visitor("lynx", (216, 176, 112), 170),
)


def unlocked(count: int) -> list[Visitor]:
    """Who may come after so many sketches."""
    return [visitor for visitor in VISITORS if count >= visitor.from_count]


def visitor_of(place: int) -> Visitor:
    """Who is met for sketch number `place` (0 is the first): a newcomer at once, and never the
    same one twice running."""
    return _met(place // BLOCK + 1)[place]


def met_before(place: int) -> set[str]:
    """Names of all who were met before sketch number `place`."""
    return {visitor.name for visitor in _met(place // BLOCK + 1)[:place]}


@lru_cache
def _met(blocks: int) -> tuple[Visitor, ...]:
    """The first so many blocks of meetings, in their order."""
    met = [VISITORS[0]]
    for place in range(1, blocks * BLOCK):
        known = unlocked(place)
        others = [visitor for visitor in known if visitor is not met[-1]]
        newcomer = known[-1] if known[-1].from_count == place else None
        met.append(newcomer or random.Random(104729 * (place + 1)).choice(others))
    return tuple(met)
