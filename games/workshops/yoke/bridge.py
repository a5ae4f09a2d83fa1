"""The bridge: a bare plank at first, and richer with every week. It only ever grows."""

from __future__ import annotations

from dataclasses import dataclass

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.yoke.rules import YokeRules

NEAR_POST, FAR_POST = 262.0, 944.0  # stage x of the two gateposts
LAMPS_AT = (368.0, 492.0, 608.0, 724.0, 848.0)
LAMPLIGHT = (255, 200, 110)


@dataclass(frozen=True)
class Part:
    """Something that is there from so many pails on; before the carrier or behind her, moved to a stage point."""

    sheet: str
    from_count: int
    before: bool = False
    at: tuple[float, float] = (0.0, 0.0)
    replaced_at: int = 10**9


PARTS = (
    Part("plank", 0),
    Part("struts", 8, replaced_at=128),
    Part("beam", 16, before=True),
    Part("balustrade", 28, before=True),
    Part("moss", 40, before=True),
    Part("lamps", 54, before=True),
    Part("ivy", 70, before=True, at=(NEAR_POST, 0)),
    Part("flowers", 88, before=True),
    Part("gate_roof", 108, before=True, at=(FAR_POST, 0)),
    Part("piers", 128),
    Part("bird", 150, before=True, at=(FAR_POST, 212)),
    Part("bunting", 176, before=True),
    Part("ivy", 204, before=True, at=(FAR_POST, 0)),
)


def standing(count: int, *, before: bool) -> tuple[Part, ...]:
    """The parts that a rack of so many pails has paid for, in the order of drawing."""
    parts = [part for part in PARTS if part.before == before and part.from_count <= count < part.replaced_at]
    return tuple(sorted(parts, key=lambda part: part.sheet != "struts"))  # struts lean behind the plank


class Bridge:
    """Draws it in two halves, with the carrier between them."""

    def __init__(self, box: PaperBox) -> None:
        self._sheet = {name: box.sheet(f"yoke/{name}.svg") for name in {part.sheet for part in PARTS} | {"post"}}

    def draw(self, canvas: Canvas, rules: YokeRules, *, before: bool) -> None:
        """The half behind the carrier, or the one before her, which the gateposts belong to."""
        if before:
            for x in (NEAR_POST, FAR_POST):
                self._sheet["post"].draw(canvas.surface, x)
        for part in standing(len(rules.before) + len(rules.made), before=before):
            self._sheet[part.sheet].draw(canvas.surface, *part.at)
            if part.sheet == "lamps":
                for x in LAMPS_AT:
                    shine(canvas.surface, canvas.at((x, 538)), (canvas.length(90),) * 2, LAMPLIGHT, 0.4)
