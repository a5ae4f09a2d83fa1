"""Where the signal comes from: a sensor for the dose, anything else for practice."""

from dataclasses import replace

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, button, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.page import Page, Push, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.setup.pads import PadsPage
from musclewood.games.screens.setup.sensors import sensor_page
from musclewood.games.screens.setup.starting import begin

TOP, WIDE = 156.0, 278.0  # of the cards


class SourcePage(Page):
    """One card for each source that can be begun here."""

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day) -> None:
        super().__init__(around)
        self.day = day
        if day.sensors is not None:
            day.sensors.refresh()  # a description may have come meanwhile

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("source.title"), (40, 34), 900, Look(size=LARGE, bold=True))
        texts = [self._texts(canvas, kind) for kind in self.day.offered]
        height = 204 + max(sum(slip.box.height for slip in pair) for pair in texts)
        left = 640 - (len(texts) * (WIDE + 22) - 22) / 2
        cards: list[Widget] = []
        for kind, (name, hint) in zip(self.day.offered, texts, strict=True):
            box = Box(left, TOP, WIDE, height)
            look = Look(shape="panel", lamp=kind == "ble")
            label = f"{' '.join(name.lines)}. {' '.join(hint.lines)}"
            cards.append(Widget(box, key=kind, look=look, picture=icons.of_source(kind), label=label))
            cards.append(name.moved(left, TOP + 190))
            cards.append(hint.moved(left, TOP + 190 + name.box.height))
            left += WIDE + 22
        back = button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn)
        low = max(700 - back.box.height, TOP + height + 14)
        return [
            head,
            *cards,
            back.moved(60, low) if low + back.box.height < 716 else back.moved(1240 - back.box.width, 30),
        ]

    def _texts(self, canvas: Canvas, kind: str) -> tuple[Widget, Widget]:
        """What stands on a card: its name, and what it means."""
        words = self.theme.words
        name = sentence(
            canvas, self.theme, words(f"source.{kind}"), (0, 0), WIDE, Look(size=BODY, bold=True, margin=16)
        )
        unknown = kind == "ble" and self.day.sensors is not None and not self.day.sensors.usable
        told = words("sensor-file.title" if unknown else f"source.{kind}-hint")
        hint = sentence(canvas, self.theme, told, (0, 0), WIDE, Look(size=SMALL, margin=16))
        return replace(name, bare=True), replace(hint, bare=True)

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        if key == "ble" and self.day.sensors is not None and not self.around.muscle_steers:
            return Push(sensor_page(self.around, self.day))
        if key == "ble" and self.day.muscles and not self.day.testing:
            return Push(PadsPage(self.around, self.day))
        return begin(self.around, self.day, key)
