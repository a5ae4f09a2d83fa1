"""What was made stands on the shelf.  A product is a few figures; its workshop draws it from them, the same every time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Product:
    """One thing that a counted rep made.

    `seed` decides whatever the figures leave open.  `figures` are the rep's own numbers under RepRecord's names
    (`steadiness`, `mean_pct_mvc`, ...); `profile` is the effort over the rep in %MVC, at most 48 points.
    """

    workshop: str
    seed: int
    made_on: date
    figures: dict[str, float]
    profile: tuple[float, ...]
