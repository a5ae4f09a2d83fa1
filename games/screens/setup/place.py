"""The place of the pads as a picture: the whole body, and the place itself under a glass."""

from functools import lru_cache

import pygame
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.kit.paper import art_text, bake
from musclewood.games.kit.slips import lay_slip
from musclewood.games.screens.base.bodies import Site
from musclewood.games.screens.base.scenery import cut

BODY_AT = (672.0, 40.0)  # upper left corner of the drawn body
GLASS = (1092.0, 320.0)  # middle of the glass
GLASS_RADIUS = 138.0
ZOOM = 2.6


def draw_place(canvas: Canvas, site: Site | None) -> None:
    """The whole body on its paper, and the place of the pads under a glass where it is known."""
    lay_slip(canvas, Box(640, 24, 610, 672), "panel", palette().paper["linen"])
    cut(f"body/{site.view if site else 'front'}", "dusk", canvas.scale).draw(canvas.surface, *BODY_AT)
    if site is None:
        return
    here = (BODY_AT[0] + site.at[0], BODY_AT[1] + site.at[1])
    ink = palette().paper["ink"]
    canvas.line(ink, [here, GLASS], 3)
    for radius, colour in ((20, ink), (16, palette().paper["lamp"]), (7, ink)):
        canvas.disc(colour, here, radius)
    canvas.paste(_glass(site, canvas.scale), GLASS, "center")


@lru_cache(maxsize=8)
def _glass(site: Site, scale: float) -> pygame.Surface:
    """The place of the pads, enlarged and drawn anew at that size, in a round frame."""
    radius = round(GLASS_RADIUS * scale)
    view = pygame.Surface((2 * radius, 2 * radius), pygame.SRCALPHA)
    view.fill(palette().paper["slip"])
    zoom = ZOOM * scale
    figure = bake(art_text(f"body/{site.view}.svg"), zoom)
    left, top = site.at[0] - radius / zoom, site.at[1] - radius / zoom
    figure.draw(view, -left, -top)
    pads = bake(art_text("body/pads.svg"), scale * 1.15).turned(-site.turn_deg, (0, 0))
    pads.draw(view, radius / scale / 1.15, radius / scale / 1.15)
    mask = pygame.Surface(view.get_size(), pygame.SRCALPHA)
    pygame.draw.circle(mask, (255, 255, 255, 255), (radius, radius), radius - 2)
    view.blit(mask, (0, 0), special_flags=pygame.BLEND_RGBA_MIN)
    pygame.draw.circle(view, palette().paper["wood"], (radius, radius), radius, max(4, round(11 * scale)))
    pygame.draw.circle(view, palette().paper["ink"], (radius, radius), radius, max(1, round(2 * scale)))
    return view
