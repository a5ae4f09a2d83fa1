"""Pictures of products, painted in a thread because one takes longer than a frame."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

import pygame
from musclewood.games.engine.shelf import Product

Paint = Callable[[Product, int], pygame.Surface]


class Painter:
    """Paints each product once for each size; `paint` gives the picture of one at so many pixels."""

    def __init__(self, paint: Paint) -> None:
        self._paint = paint
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="painter")
        self._asked: dict[tuple[int, tuple[float, ...], int], Future[pygame.Surface]] = {}

    def image(self, product: Product, side_px: int) -> pygame.Surface | None:
        """The picture, or None until it is painted."""
        key = (product.seed, product.profile, side_px)
        if key not in self._asked:
            self._asked[key] = self._thread.submit(self._paint, product, side_px)
        return self._asked[key].result() if self._asked[key].done() else None

    def settle(self) -> None:
        """Wait until everything asked for is painted; for stills."""
        for painted in self._asked.values():
            painted.result()
