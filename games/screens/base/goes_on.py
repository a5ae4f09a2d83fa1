"""Pages that go on by themselves once what they wait for has happened; whoever wants to stay can say so."""

from __future__ import annotations

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Widget, button
from musclewood.games.screens.base import icons

STAY = "stay"


class GoesOn:
    """Counts while the page is ready to go on. `held`: somebody wants to stay, so that from now on only an answer
    goes on; while somebody points at something else, it waits."""

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        self.held = False
        self._ready_s = 0.0
        self._waits = False

    @property
    def share(self) -> float:
        """How far it is on its way, 0 to 1."""
        return min(1.0, self._ready_s / self.wait_s)

    @property
    def begun(self) -> bool:
        return self._ready_s > 0.0

    def step(self, dt_s: float, ready: bool) -> bool:
        """Whether it is time; from the beginning again where the page is no longer ready."""
        if not self._waits or not ready:
            self._ready_s = self._ready_s + dt_s if ready and not self.held else 0.0
        return self._ready_s >= self.wait_s and not self._waits

    def hear(self, intent: Intent, under: Widget | None, focus: str, onward: str) -> None:
        """Whatever somebody does on the page holds it, but what leads `onward` as well, and a pointer that only moves.
        `under` lies under the pointer; `focus` is what a key would choose."""
        meant = under.key if under else "" if intent.at else focus if intent.act is Act.CHOOSE else STAY
        if intent.act is Act.POINT:
            self._waits = meant not in ("", onward)
        elif meant not in ("", onward):
            self.held = True


def stay(canvas: Canvas, theme: Theme) -> Widget:
    """The way to hold a page."""
    return button(canvas, theme, STAY, theme.words("common.stay"), icon=icons.stay)
