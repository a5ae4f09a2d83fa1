"""What every page of the desk is: daylight on wood, no wren, and letters that arrive as they are typed."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread

from musclewood.games.desk.base.editing import Clipboard
from musclewood.games.desk.base.entry import Edit, Entry
from musclewood.games.desk.base.pieces import desk_ring
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.base.page import Page, Surroundings, Transition
from musclewood.games.screens.base.scenery import Scene

DESK = Scene("dawn", ("desk/boards", "desk/light", "desk/things"), horizon=1.0)
Job = Callable[[], Transition | None]
PATIENCE_S = 0.02  # most jobs of a quick computer are done within a frame or two
LONGEST_JOB_S = 30.0


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
        self._waiting: list[Job] = []
        self._thread: Thread | None = None
        self._done: tuple[Transition | None, BaseException | None] = (None, None)

    # -- letters

    @property
    def typing(self) -> bool:
        """Whether letters and the space bar go into a line of text now."""
        return False

    def type(self, letters: str) -> Transition | None:
        """Letters were typed."""
        return None

    @property
    def line(self) -> Entry | None:
        """What is typed into now."""
        return None

    def begun(self, edit: Edit) -> Entry | None:
        """The line that a key of editing begins to work on, where one is about to be typed into."""
        return self.line

    def edited(self) -> None:
        """The text of the line is another now."""

    def edit(self, edit: Edit, clipboard: Clipboard) -> bool:
        """A key that edits. False where it edits nothing, and may mean something else. What is
        masked is never copied."""
        line = None if self.busy else self.line or (None if edit.moves else self.begun(edit))
        if line is None:
            return False
        if edit.act == "paste":
            changed = line.paste(clipboard.get())
        else:
            copied = edit.act in ("copy", "cut") and line.chosen != ""
            if copied and not line.masked:
                clipboard.put(line.chosen)
            changed = line.do(edit) if edit.act != "cut" or not line.masked else False
        if changed:
            self.edited()
        return True

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
        """Do this in a thread of its own after the next picture has been shown; the window stays alive meanwhile.

        What the job returns is taken on the page's own time, and what it raises is raised there.
        """
        if self._job is not None:
            self._waiting.append(job)
            return
        self._job, self._announced = job, False

    def finish(self) -> None:
        """Wait for a job that has begun: the window is about to close."""
        if self._thread is not None:
            self._thread.join(LONGEST_JOB_S)

    def update(self, dt_s: float) -> Transition | None:
        super().update(dt_s)
        if self._job is None or not self._announced:
            return None
        if self._thread is None:
            self._thread = Thread(target=self._work, args=(self._job,), name="desk", daemon=True)
            self._thread.start()
        self._thread.join(PATIENCE_S)
        if self._thread.is_alive():
            return None
        self._thread, self._job = None, self._waiting.pop(0) if self._waiting else None
        self._announced = False
        (done, failure), self._done = self._done, (None, None)
        if failure is not None:
            raise failure
        return done

    def _work(self, job: Job) -> None:
        try:
            self._done = (job(), None)
        except BaseException as failure:  # noqa: BLE001
            self._done = (None, failure)

    def _backdrop(self, canvas: Canvas) -> None:
        """Plain wood until the boards are planed; at home it is the evening sky."""
        picture = self.around.backdrops.ask(self.scene)
        if picture is None:
            canvas.surface.fill(palette().hours["dawn"]["bench-table"])
        else:
            canvas.surface.blit(picture, (0, 0))

    def draw(self, canvas: Canvas) -> None:
        super().draw(canvas)
        self._announced = True

    def draw_widgets(self, canvas: Canvas, widgets: list[Widget]) -> None:
        for widget in widgets:
            widget.draw(canvas, self.theme)
        for widget in widgets:
            if widget.key and widget.key == self.focus:
                desk_ring(canvas, self.theme, widget.box, self.ring_room(widget))
