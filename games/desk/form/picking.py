"""Two pages to choose one of a few things: the kind of a new exercise, a new muscle."""

from __future__ import annotations

from collections.abc import Callable, Hashable

from musclewood.games.desk.base.figures import figure, sites_of
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import FINE, Tool, foot, picture
from musclewood.games.desk.form import offered
from musclewood.games.desk.form.kind_sketches import sketch
from musclewood.games.desk.form.model import MOST_MUSCLES, FormModel
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Surroundings, Transition

WIDE, GAP = 396.0, 22.0
A_LEAF = 15  # muscles that are shown at once


class KindPage(DeskPage):
    """Six kinds, each with what it trains."""

    def __init__(self, around: Surroundings, model: FormModel, opened: Callable[[str], None]) -> None:
        super().__init__(around)
        self.model, self._opened = model, opened

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("desk.pick.kind"), (24, 22), 1000, Look(size=LARGE, bold=True, margin=18))
        top = head.box.bottom + 26
        height = min(240.0, (632 - top - GAP) / 2)
        widgets = [head]
        for number, kind in enumerate(offered.OFFERED_KINDS):
            row, column = divmod(number, 3)
            box = Box(24 + column * (WIDE + GAP), top + row * (height + GAP), WIDE, height)
            card = _card(canvas, theme, kind, box.width)
            widgets.append(picture(box, card, f"kind:{kind}"))
        back = Tool("back", words("common.back"), icons.leaf_turn)
        return [*widgets, *foot(canvas, theme, [back])]

    def chosen(self, key: str) -> Transition | None:
        if key != "back":
            number = self.model.add_exercise(key.removeprefix("kind:"))
            self._opened(f"exercise:{number}")
        return Back()


class MusclePage(DeskPage):
    """The muscles whose places are known."""

    def __init__(self, around: Surroundings, model: FormModel) -> None:
        super().__init__(around)
        self.model = model
        self.leaf = 0

    def state(self) -> Hashable:
        return self.leaf

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        full = len(self.model.muscles) >= MOST_MUSCLES
        title = words("desk.pick.full" if full else "desk.pick.muscle")
        head = sentence(canvas, theme, title, (24, 22), 1000, Look(size=LARGE, bold=True, margin=18))
        widgets, top = [head], head.box.bottom + 26
        height = (632 - top + 14) / 5 - 14
        offer = offered.known_muscles()[self.leaf * A_LEAF : (self.leaf + 1) * A_LEAF]
        for number, known in enumerate(() if full else offer):
            column, row = divmod(number, 5)
            box = Box(24 + column * (WIDE + GAP), top + row * (height + 14), WIDE, height)
            lines = theme.letters.wrap(canvas, known.name, SMALL, WIDE - 88, bold=True)
            widgets.append(picture(box, _name(lines, known.key), f"muscle:{known.key}"))
        tools = [Tool("back", words("common.back"), icons.leaf_turn)]
        if not full:
            tools.append(Tool("more", words("desk.pick.more", leaf=self.leaf + 1, leaves=_leaves()), icons.arrow))
        return [*widgets, *foot(canvas, theme, tools)]

    def chosen(self, key: str) -> Transition | None:
        if key == "more":
            self.leaf = (self.leaf + 1) % _leaves()
            return None
        if key != "back":
            wanted = key.removeprefix("muscle:")
            self.model.add_muscle(next(one for one in offered.known_muscles() if one.key == wanted))
        return Back()


def _leaves() -> int:
    return -(-len(offered.known_muscles()) // A_LEAF)


def _card(canvas: Canvas, theme: Theme, kind: str, width: float) -> Drawing:
    name, hint = theme.words(f"desk.kind.{kind}"), theme.words(f"desk.kind.{kind}-hint")
    name = name[:1].upper() + name[1:]
    title = theme.letters.wrap(canvas, name, SMALL, width - 48, bold=True)
    small = theme.letters.wrap(canvas, hint, FINE, width - 48)

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        lay_slip(canvas, box, "slip", theme.slip, outlined=theme.settings.high_contrast)
        theme.letters.write(canvas, title, (box.left + 24, box.top + 20), SMALL, theme.ink, bold=True)
        low = box.top + 30 + len(title) * theme.letters.line_height(SMALL)
        theme.letters.write(canvas, small, (box.left + 24, low), FINE, theme.ink)
        below = low + len(small) * theme.letters.line_height(FINE) + 14
        sketch(canvas, theme, Box(box.left + 28, below, box.width - 60, box.bottom - 26 - below), kind)

    return draw


def _name(lines: list[str], muscle: str) -> Drawing:
    body = figure(sites_of([(muscle, "left")]))

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        lay_slip(canvas, box, "slip", theme.slip, outlined=theme.settings.high_contrast)
        body(canvas, theme, Box(box.left + 14, box.top + 6, 44, box.height - 14))
        at = (box.left + 72, box.top + box.height / 2)
        theme.letters.write(canvas, lines, at, SMALL, theme.ink, bold=True, anchor="midleft")

    return draw
