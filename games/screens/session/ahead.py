"""Pictures of the workshops that come next, painted in threads while nobody has to look closely.

A picture takes seconds to paint. So it is begun with the first question of a session, and in every break: sheet by
sheet, and only while the eye is free, so that no frame of an effort is late for it.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Sequence

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.session.lily import prepare_lily
from musclewood.games.workshops import Picture, PictureSetup, workshops
from musclewood.games.workshops.door_pictures import prepare_door

Key = tuple[str, tuple[int, int], bool]  # workshop, size in pixels, reduced motion
MOST_AHEAD = 3  # pictures of a whole window; more workshops to choose among are painted when they are chosen


class Pictures:
    """Those of one session, each painted once for each size. Asked while drawing; `ask` begins at once, whatever else
    waits."""

    def __init__(self, around: Surroundings) -> None:
        self._around = around
        self._ready: dict[Key, Picture] = {}
        self._begun: set[Key] = set()
        self._free = threading.Event()
        self._lilies: set[float] = set()  # scales at which it is cut, or soon will be

    def ask(self, name: str, canvas: Canvas) -> Picture | None:
        """The picture of this workshop, if it is there; else it is on its way as fast as it can be."""
        self._free.set()
        return self._of(name, canvas)

    def ahead(self, names: Sequence[str], canvas: Canvas, *, free: bool) -> None:
        """What comes next is one of these; `free` while the eye is. One is painted after the other."""
        if free:
            self._free.set()
        else:
            self._free.clear()
        self._cut_lily(canvas.scale)
        for name in names[:MOST_AHEAD]:
            if self._of(name, canvas) is None:
                return

    def _cut_lily(self, scale: float) -> None:
        """It breathes in the first pause already."""
        if scale not in self._lilies and not self._around.backdrops.at_once:
            self._lilies.add(scale)
            PaperBox(scale).bake_behind((), then=lambda: prepare_lily(scale, self._free.wait))

    def keep(self, names: Collection[str]) -> None:
        """Give all others back."""
        self._ready = {key: picture for key, picture in self._ready.items() if key[0] in names}
        self._begun = {key for key in self._begun if key[0] in names}

    def ready(self, name: str, canvas: Canvas) -> bool:
        """Whether the picture is there, without asking for it."""
        return self._key(name, canvas) in self._ready

    def _key(self, name: str, canvas: Canvas) -> Key:
        return name, canvas.size, self._around.theme.still

    def _of(self, name: str, canvas: Canvas) -> Picture | None:
        key = self._key(name, canvas)
        if name in workshops() and key not in self._begun:
            self._begun.add(key)
            self._paint(key, canvas)
        return self._ready.get(key)

    def _paint(self, key: Key, canvas: Canvas) -> None:
        workshop, at_once = workshops()[key[0]], self._around.backdrops.at_once
        box = self._around.backdrops.box if at_once else PaperBox(canvas.scale)

        def make() -> None:
            picture = workshop.picture()(PictureSetup(box, key[2]))
            prepare_door(workshop.door, canvas.scale)
            if key in self._begun:  # else it was given back meanwhile
                self._ready[key] = picture

        if at_once:
            make()
        else:
            box.bake_behind(workshop.art, then=make, before_each=self._free.wait)
