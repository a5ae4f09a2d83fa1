"""The clinic's letter chosen on the screen, for those who do not drag: places first, then what lies in them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from musclewood.games.home.places import Entry, look_into, usual_places
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, in_rows, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import WREN_ROOM, Back, Page, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH

GAP, LOWEST = 12.0, 704.0
LONGEST_NAME = 48  # letters; a name may have any number
SIGNS = {"letter": icons.letter, "exchange": icons.arrow, "folder": icons.folder}


class PickPage(Page):
    """`take` is given the path that was chosen. Folders are read in a thread: a stick takes its time."""

    scene = BENCH

    def __init__(
        self,
        around: Surroundings,
        take: Callable[[str], None],
        places: Callable[[], Sequence[Entry]] = lambda: usual_places(Path.home()),
    ) -> None:
        super().__init__(around)
        self._take, self._places = take, places
        self._work = ThreadPoolExecutor(max_workers=1, thread_name_prefix="folders")
        self._going: Future[Sequence[Entry]] | None = None
        self.folder: Path | None = None
        self.entries: tuple[Entry, ...] = ()
        self.first = 0
        self._fit = 1
        self._open(None)

    def _open(self, folder: Path | None) -> None:
        """Look into a folder; None for the places to begin from."""
        self.folder, self.entries, self.first, self.focus = folder, (), 0, ""
        self._going = self._work.submit(self._places if folder is None else lambda: look_into(folder))

    def update(self, dt_s: float) -> Transition | None:
        if self._going is not None and self._going.done():
            self.entries, self._going = tuple(self._going.result()), None
        return super().update(dt_s)

    def state(self) -> Hashable:
        return (self.folder, self.entries, self.first, self._going is not None)

    def turned(self) -> Hashable:
        return (self.folder, self.first)

    # -- laid out
    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        slips = [sentence(canvas, theme, words("pick.title"), (40, 34), 1180, Look(size=LARGE, bold=True))]
        told = self._told()
        if told:
            look = Look(size=SMALL)
            slips.append(sentence(canvas, theme, told, (60, bottom_of(slips) + 14), 1120, look))
        tools = in_rows(self._tools(canvas), 60, 0, 1160, 24)
        tools = [tag.moved(tag.box.left, tag.box.top + LOWEST - bottom_of(tools)) for tag in tools]
        top, room = bottom_of(slips) + WREN_ROOM, min(tag.box.top for tag in tools) - GAP
        tags = [self._tag(canvas, number) for number in range(self.first, len(self.entries))]
        self._fit = max(1, sum(1 for last in range(len(tags)) if _height(tags[: last + 1]) <= room - top))
        shown = stacked(tags[: self._fit], 60, top, GAP, alike=True)
        if len(self.entries) <= self._fit and self.first == 0:
            tools = [tag for tag in tools if tag.key != "more"]
        return [*shown, *tools, *slips]

    def _told(self) -> str:
        words = self.theme.words
        if self._going is not None:
            return words("pick.looking")
        if self.folder is None:
            return ""
        return _short(self.folder.name or str(self.folder)) if self.entries else words("pick.empty")

    def _tools(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        tools = [button(canvas, self.theme, "back", words("common.back"), icon=icons.leaf_turn, size=BODY)]
        if self.folder is not None:
            tools.append(button(canvas, self.theme, "up", words("pick.up"), icon=icons.folder))
        tools.append(button(canvas, self.theme, "more", words("pick.more"), icon=icons.arrow))
        return tools

    def _tag(self, canvas: Canvas, number: int) -> Widget:
        entry, words = self.entries[number], self.theme.words
        name = words(entry.name) if entry.usual else _short(entry.name)
        text = words(f"pick.{entry.kind}", name=name) if entry.kind != "folder" else name
        first = number == self.first and entry.kind != "folder"
        return button(canvas, self.theme, f"entry:{number}", text, icon=SIGNS[entry.kind], first=first, width=1100)

    # -- answered
    def chosen(self, key: str) -> Transition | None:
        match key:
            case "back":
                return Back()
            case "up":
                self._up()
            case "more":
                self.first = self.first + self._fit if self.first + self._fit < len(self.entries) else 0
                self.focus = ""
            case _:
                entry = self.entries[int(key.removeprefix("entry:"))]
                if entry.kind != "folder":
                    self._take(str(entry.path))
                    return Back()
                self._open(entry.path)
        return None

    def _up(self) -> None:
        """The folder around this one; beyond the topmost, and from the user's own, the places to begin from."""
        here = self.folder
        top = here is None or here == Path.home() or here.parent == here
        self._open(None if top or here is None else here.parent)

    def back(self) -> Transition | None:
        if self.folder is None:
            return Back()
        self._up()
        return None


def _height(tags: list[Widget]) -> float:
    return sum(tag.box.height + GAP for tag in tags) - GAP


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 16]} ... {name[-11:]}"
