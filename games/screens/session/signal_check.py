"""Listening to the muscle: one lantern a channel says how clear it is, one sentence says what to do."""

from collections.abc import Hashable, Sequence

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, button, in_rows, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.base.pace import RESTING, Pace
from musclewood.games.screens.base.page import WREN_ROOM, Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.pool import draw_water
from musclewood.games.screens.base.scenery import cut
from musclewood.games.screens.base.scenes import POOL
from musclewood.profiles.orders.tables import Muscle

FULL_STIR_UV = 120.0  # our choice: a moderate contraction of a limb muscle stirs the water fully

ROW_WIDTH = 1180.0


class SignalPage(Page):
    """Until the signal is clear for some seconds, or somebody accepts it as it is."""

    scene = POOL
    eager = False

    def __init__(self, around: Surroundings, play: Play, muscles: Sequence[Muscle] = ()) -> None:
        super().__init__(around)
        self.play = play
        self._muscles = {muscle.channel: muscle for muscle in muscles}

    @property
    def pace(self) -> Pace:
        return RESTING

    def state(self) -> Hashable:
        view = self.play.view.signal
        here = (self.play.trouble, self.play.battery_low)
        return (view.verdicts, view.advice, view.may_go_on, here) if view else None

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, view = self.theme, self.theme.words, self.play.view.signal
        trouble = self.play.trouble
        title = words(f"trouble.{trouble.value}" if trouble else "signal.title")
        head = sentence(canvas, theme, title, (40, 34), 620, Look(size=LARGE, bold=True))
        if view is None:
            return [head]
        waiting = not any(view.verdicts)
        fine = words("sensors.battery" if self.play.battery_low else "signal.fine")
        told = words("signal.relax") if waiting else words(f"advice.{view.advice[0]}") if view.advice else fine
        told = words(f"trouble-advice.{trouble.value}") if trouble else told
        advice = sentence(canvas, theme, told, (56, head.box.bottom + 16), 640, Look(size=BODY))
        cards = self._cards(canvas, bottom_of([head, advice]) + 26)
        onward: list[Widget] = []
        if view.may_go_on:
            hint = self.muscle_hint(canvas, (56, bottom_of(cards) + 14), 560)
            below = bottom_of([*cards, *hint]) + WREN_ROOM
            tag = button(canvas, theme, "go-on", words("signal.accept"), (56, 0), icon=icons.arrow)
            onward = [tag.moved(56, min(720 - 24 - tag.box.height, below)), *hint]
        return [*onward, head, advice, *cards, *always_there(canvas, theme)]

    def _cards(self, canvas: Canvas, top: float) -> list[Widget]:
        theme, words, view = self.theme, self.theme.words, self.play.view.signal
        assert view is not None
        cards: list[Widget] = []
        for channel, verdict in zip(view.channels, view.verdicts, strict=True):
            text = self._name(channel) + "\n" + words(f"signal.{verdict or 'waiting'}")
            card = sentence(canvas, theme, text, (0, 0), 380, Look(size=SMALL, bold=True))
            box = card.box._replace(width=card.box.width + 70, height=max(124.0, card.box.height))
            cards.append(
                Widget(box, card.lines, look=Look(size=SMALL, bold=True, margin=86), picture=_lantern(verdict))
            )
        return in_rows(cards, 56, top, ROW_WIDTH, 22)

    def _name(self, channel: int) -> str:
        """The muscle on a channel, as the prescription calls it."""
        words, muscle = self.theme.words, self._muscles.get(channel)
        if muscle is None:
            return words("signal.muscle", number=channel + 1)
        return words("calibration.muscle", muscle=muscle.name, side=words(f"pads.side-{muscle.side}"))

    def paint(self, canvas: Canvas) -> None:
        draw_water(canvas, self.play.amplitude_uv / FULL_STIR_UV, self.time_s, self.theme.still)

    def chosen(self, key: str) -> Transition | None:
        self.play.answer("go on")
        return None

    def back(self) -> Transition | None:
        return None


def _lantern(verdict: str) -> Drawing:
    """Clear: open and bright; fair: half shuttered; poor or nothing yet: shut."""
    name = {"good": "pool/verdict-good", "fair": "pool/verdict-fair"}.get(verdict, "pool/verdict-poor")

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        cut(name, "night", canvas.scale).draw(canvas.surface, box.left + 46, box.top + box.height / 2)

    return draw
