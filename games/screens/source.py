"""Where the signal comes from: a sensor for the dose, anything else for practice."""

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, button, sentence
from musclewood.games.screens import icons, sketches
from musclewood.games.screens.day import Day
from musclewood.games.screens.pads import PadsPage
from musclewood.games.screens.page import Page, Push, Surroundings, Transition
from musclewood.games.screens.scenes import BENCH
from musclewood.games.screens.starting import begin


class SourcePage(Page):
    """One card for each source that can be begun here."""

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day) -> None:
        super().__init__(around)
        self.day = day

    def build(self, canvas: Canvas) -> list[Widget]:
        reader, words = self.reader, self.reader.words
        head = sentence(canvas, reader, words("source.title"), (40, 34), 900, Look(size=LARGE, bold=True))
        cards: list[Widget] = []
        wide = 278.0
        left = 640 - (len(self.day.offered) * (wide + 22) - 22) / 2
        for kind in self.day.offered:
            cards += self._card(canvas, kind, left, wide)
            left += wide + 22
        back = button(canvas, reader, "back", words("common.back"), icon=icons.leaf_turn)
        return [head, *cards, back.moved(60, 700 - back.box.height)]

    def _card(self, canvas: Canvas, kind: str, left: float, wide: float) -> list[Widget]:
        """A card with a picture, its name and what it means; only the card itself can be chosen."""
        reader, words = self.reader, self.reader.words
        name = sentence(canvas, reader, words(f"source.{kind}"), (0, 0), wide, Look(size=BODY, bold=True, margin=16))
        hint = sentence(canvas, reader, words(f"source.{kind}-hint"), (0, 0), wide, Look(size=SMALL, margin=16))
        top, below = 128.0, 590.0
        card = Widget(
            name.box._replace(left=left, top=top, width=wide, height=below - top),
            key=kind,
            look=Look(shape="panel", lamp=kind == "ble"),
            picture=sketches.of_source(kind),
        )
        texts = [
            Widget(name.box._replace(left=left, top=top + 186, width=wide), name.lines, look=name.look, bare=True),
            Widget(
                hint.box._replace(left=left, top=top + 190 + name.box.height, width=wide),
                hint.lines,
                look=hint.look,
                bare=True,
            ),
        ]
        return [card, *texts]

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        if key == "ble" and self.day.muscles:
            return Push(PadsPage(self.around, self.day))
        return begin(self.around, self.day, key)
