"""The visitor on its way: from the thicket over the stepping stones to the hide, growing as it comes near."""

from __future__ import annotations

import math
import threading

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.hide.rules import HideRules
from musclewood.games.workshops.hide.sketches import neck_of

WAY = (
    (978.0, 412.0),
    (930.0, 440.0),
    (880.0, 500.0),
    (800.0, 606.0),
)  # from the thicket to the hide, as the stones lie
FAR = 0.34  # size in the thicket, as a share of that before the hide
SIZES, NODS = 28, 6
GRAZING, LISTENING = 13.0, -7.0  # degrees of the head: down while all is quiet, up when something stirs
MOONLIGHT = (120, 140, 190)


def way(share: float) -> tuple[float, float]:
    """Stage place on the way, 0 in the thicket, 1 before the hide."""
    share = min(max(share, 0.0), 1.0)
    rest = 1 - share
    parts = (rest**3, 3 * rest**2 * share, 3 * rest * share**2, share**3)
    return (
        sum(part * point[0] for part, point in zip(parts, WAY, strict=True)),
        sum(part * point[1] for part, point in zip(parts, WAY, strict=True)),
    )


class Animals:
    """Draws the visitor; each pose at each size is made once, and a new animal is baked in a thread."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._box, self._still = box, reduced_motion
        self._poses: dict[str, list[pygame.Surface]] = {}
        self._corner: dict[str, tuple[float, float]] = {}
        self._sized: dict[tuple[str, int, int], pygame.Surface] = {}
        self._baking: threading.Thread | None = None

    def expect(self, name: str) -> None:
        """Make an animal ready, without keeping the picture waiting."""
        if name in self._poses or (self._baking and self._baking.is_alive()):
            return
        self._baking = threading.Thread(target=self._bake, args=(name,), name="animals", daemon=True)
        self._baking.start()

    def settle(self) -> None:
        """Wait for what is being made; for stills."""
        if self._baking:
            self._baking.join()

    def draw(self, canvas: Canvas, rules: HideRules, time_s: float) -> None:
        name = rules.visitor.name
        self.expect(name)
        if name not in self._poses or (rules.finished and rules.nearness < 0.02):
            return
        x, y = way(rules.nearness)
        nod = 0.0 if self._still else 0.12 * math.sin(time_s * 1.9)
        pose = round((NODS - 1) * min(max(1 - rules.alert + nod, 0.0), 1.0))
        size = round((SIZES - 1) * rules.nearness)
        image, share = self._image(name, pose, size), FAR + (1 - FAR) * size / (SIZES - 1)
        hop = 0.0 if self._still else -2.5 * share * abs(math.sin(rules.nearness * 44))
        left, top = self._corner[name]
        spot = canvas.at((x, y - 50 * share))
        shine(
            canvas.surface, spot, (canvas.length(300 * share), canvas.length(240 * share)), MOONLIGHT, 0.5 * rules.glow
        )
        canvas.paste(image, (x + left * share, y + top * share + hop))

    def _image(self, name: str, pose: int, size: int) -> pygame.Surface:
        key = (name, pose, size)
        if key not in self._sized:
            whole = self._poses[name][pose]
            share = FAR + (1 - FAR) * size / (SIZES - 1)
            wanted = (max(1, round(whole.get_width() * share)), max(1, round(whole.get_height() * share)))
            if len(self._sized) > 240:
                self._sized.clear()
            self._sized[key] = pygame.transform.smoothscale(whole, wanted)
        return self._sized[key]

    def _bake(self, name: str) -> None:
        body, head = self._box.sheet(f"hide/{name}.svg"), self._box.sheet(f"hide/{name}_head.svg")
        self._corner[name] = (body.x, body.y)
        turns = [LISTENING + (GRAZING - LISTENING) * n / (NODS - 1) for n in range(NODS)]
        self._poses[name] = [_joined(body, head.turned(turn, neck_of(name))) for turn in turns]


def _joined(body: Sheet, head: Sheet) -> pygame.Surface:
    """Body and turned head as one picture of the body's size."""
    whole = body.surface.copy()
    whole.blit(head.surface, (round((head.x - body.x) * body.scale), round((head.y - body.y) * body.scale)))
    return whole
