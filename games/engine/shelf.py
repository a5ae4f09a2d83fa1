"""What was made stands on the shelf.  A product is a few figures; its workshop draws it from
them, the same every time."""

from __future__ import annotations

import zlib
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord, rep_in

if TYPE_CHECKING:
    from musclewood.games.engine.rep_events import JudgedRep

FIGURES = (
    "held_s",
    "in_band_s",
    "mean_pct_mvc",
    "peak_pct_mvc",
    "steadiness",
    "rise_pct_mvc_per_s",
    "target_pct_mvc",
    "tolerance_pct_mvc",
)


@dataclass(frozen=True, slots=True)
class Product:
    """One thing that a counted rep made.

    `seed` decides whatever the figures leave open.  `figures` are the rep's own numbers under RepRecord's names
    (`steadiness`, `mean_pct_mvc`, ...) and its `place`: how many the workshop had made before; `profile` is the effort
    over the rep in %MVC, at most 48 points.
    """

    workshop: str
    seed: int
    made_on: date
    figures: dict[str, float]
    profile: tuple[float, ...]


def product_of(rep: JudgedRep | RepRecord, workshop: str, made_on: date, place: int = 0) -> Product:
    """What a counted rep made.  Its seed comes from the rep itself, so the shelf shows what was seen being made."""
    figures = {name: float(getattr(rep, name)) for name in FIGURES} | {"place": float(place)}
    seed = zlib.crc32(repr((workshop, rep.set_number, rep.rep_number, rep.effort_profile)).encode())
    return Product(workshop, seed, made_on, figures, rep.effort_profile)


class _Kept(Product):
    """One of thousands that a journal holds; its record is read only when somebody looks at the thing."""

    __slots__ = ("_made", "_place", "_text")

    _made: Product | None
    _place: int
    _text: str

    def __init__(self, workshop: str, made_on: date, place: int, text: str) -> None:
        own = {"workshop": workshop, "made_on": made_on, "_place": place, "_text": text, "_made": None}
        for name, value in own.items():
            object.__setattr__(self, name, value)

    @property
    def _whole(self) -> Product:
        if self._made is None:
            made = product_of(rep_in(self._text), self.workshop, self.made_on, self._place)
            object.__setattr__(self, "_made", made)
            return made
        return self._made

    @property
    def seed(self) -> int:
        return self._whole.seed

    @property
    def figures(self) -> dict[str, float]:
        return self._whole.figures

    @property
    def profile(self) -> tuple[float, ...]:
        return self._whole.profile


def shelf_of(journal: Journal, zone: str | None = None, *, practice: bool = False) -> list[Product]:
    """Everything that was ever made, the oldest first.  Things made in practice stand elsewhere: ask for them."""
    products: list[Product] = []
    places: Counter[str] = Counter()
    zone_there = zone_of(zone)
    days = {
        session.session_id: datetime.fromisoformat(session.start.started_at).astimezone(zone_there).date()
        for session in journal.sessions()
        if session.practice == practice
    }
    for session_id, workshop, text in journal.counted_reps():
        if session_id in days:
            products.append(_Kept(workshop, days[session_id], places[workshop], text))
            places[workshop] += 1
    return products
