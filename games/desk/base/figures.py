"""A small drawn body with a dot where the electrodes go."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.kit.paper import Sheet, art_text, bake
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Drawing
from musclewood.games.screens.base.bodies import Site, site_of

BODY_W, BODY_H = 300.0, 640.0  # of the drawing


def sites_of(muscles: Sequence[tuple[str, str]]) -> list[Site]:
    """Where these muscles (name, side) lie, as far as they are drawn; all in the view of the first."""
    found = [site for name, side in muscles if (site := site_of(name, side))]
    return [site for site in found if site.view == found[0].view]


def figure(sites: Sequence[Site]) -> Drawing:
    """The body as high as its box, in the middle of it; without a dot where no site is known."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        share = box.height / BODY_H
        left = box.left + (box.width - BODY_W * share) / 2
        body = _body(sites[0].view if sites else "front", canvas.scale * share)
        body.draw(canvas.surface, left / share, box.top / share)
        for site in sites:
            at = (left + site.at[0] * share, box.top + site.at[1] * share)
            for radius, colour in ((7, theme.ink), (4.5, palette().paper["lamp"])):
                canvas.disc(colour, at, radius)

    return draw


@lru_cache(maxsize=12)
def _body(view: str, scale: float) -> Sheet:
    return bake(art_text(f"body/{view}.svg", "dawn"), scale)
