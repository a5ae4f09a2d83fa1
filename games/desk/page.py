"""What every page of the desk is: daylight on wood, no wren, and letters that arrive as they are typed."""

from __future__ import annotations

from collections.abc import Callable

from musclewood.games.desk.pieces import desk_ring
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.page import Page, Surroundings, Transition
from musclewood.games.screens.scenery import Scene

DESK = Scene("dawn", ("desk/boards", "desk/light", "desk/things"), horizon=1.0)
Job = Callable[[], Transition | None]


class DeskPage(Page):
    """Base of the desk's pages.

    A job that takes a second (a passphrase, a folder far away) is put off until the words that announce it are drawn.
    """

    scene = DESK
    wren = False

    def __init__(self, around: Surroundings) -> None:
        super().__init__(around)
        self._job: Job | None = None
        self._announced = False

    # -- letters

    @property
    def typing(self) -> bool:
        """Whether letters and the space bar go into a line of text now."""
        return False

    def type(self, letters: str) -> Transition | None:
        """Letters were typed."""
        return None

    def erase(self) -> None:
        """The last letter is taken back."""

    def leap(self, pages: int) -> None:
        """A page up (-1) or down (1)."""

    def scroll(self, rows: int) -> None:
        """The wheel was turned."""

    def ring_room(self, widget: Widget) -> float:
        """How far out the ring lies, beyond the usual."""
        return 0.0

    # -- jobs

    @property
    def busy(self) -> bool:
        return self._job is not None

    def soon(self, job: Job) -> None:
        """Do this after the next picture has been shown."""
        self._job, self._announced = job, False

    def update(self, dt_s: float) -> Transition | None:
        super().update(dt_s)
        if self._job is None or not self._announced:
            return None
        job, self._job = self._job, None
        return job()

    def draw(self, canvas: Canvas) -> None:
        super().draw(canvas)
        self._announced = True

    def draw_widgets(self, canvas: Canvas, widgets: list[Widget]) -> None:
        for widget in widgets:
            widget.draw(canvas, self.reader)
        for widget in widgets:
            if widget.key and widget.key == self.focus:
                desk_ring(canvas, self.reader, widget.box, self.ring_room(widget))
