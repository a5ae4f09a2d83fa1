"""What lies over a session while it stands still: stopped, after pain, without a sensor."""

from collections.abc import Hashable

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import WREN_ROOM, Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play

VEIL = (14, 14, 40, 150)
LOWEST = 700.0  # large letters move everything up


class OverPage(Page):
    """A few words and choices over whatever is below, which goes on being seen.

    title and hint are keys of sentences; choices maps what can be chosen to the key of its words. Nothing is ready to
    be chosen, and no contraction goes on: only a hand undoes what stopped the session.
    """

    eager = False
    careful = True
    closed_to_muscle = frozenset({"go-on"})
    escape_goes_on = False
    going_on_first = True  # shown as the usual way; after pain neither way is

    def __init__(
        self, around: Surroundings, play: Play, below: Page, title: str, hint: str, choices: dict[str, str]
    ) -> None:
        super().__init__(around)
        self.play, self.below = play, below
        self.title, self.hint, self._choices = title, hint, choices
        self.closed = False
        self._veil: pygame.Surface | None = None

    def state(self) -> Hashable:
        return (self.play.view.advice, self.play.trouble)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title, hints = self._told()
        slips = [sentence(canvas, theme, title, (0, 0), 760, Look(size=LARGE, bold=True))]
        slips += [sentence(canvas, theme, hint, (0, 0), 760, Look(size=BODY)) for hint in hints]
        placed = stacked(slips, 260, 130)
        signs = {"go-on": icons.arrow, "hurts": icons.plaster, "end": icons.door}
        tags = [
            button(
                canvas,
                theme,
                key,
                words(text),
                first=self.going_on_first and key == "go-on",
                icon=signs[key],
                width=700,
            )
            for key, text in self._choices.items()
        ]
        choices = stacked(tags, 260, bottom_of(placed) + WREN_ROOM, 26, alike=True)
        by_muscle = self.muscle_hint(canvas, (260, bottom_of(choices) + 40), 760)
        if by_muscle and "go-on" in self._choices:
            by_hand = sentence(canvas, theme, words("common.by-hand"), (0, 0), 760, Look(size=SMALL, margin=16))
            by_muscle.append(by_hand.moved(260, bottom_of(by_muscle) + 10))
        lift = max(0.0, bottom_of([*choices, *by_muscle]) - LOWEST)
        return [widget.moved(widget.box.left, widget.box.top - lift) for widget in [*choices, *placed, *by_muscle]]

    def _told(self) -> tuple[str, list[str]]:
        """What is wrong, and what to do: what a Bluetooth sensor's link knows before what the signal looks like."""
        words, trouble, advice = self.theme.words, self.play.trouble, self.play.view.advice
        if self.play.view.paused != "sensor":
            return words(self.title), [words(self.hint)] if self.hint else []
        if trouble is not None:
            return words(f"trouble.{trouble.value}"), [words(f"trouble-advice.{trouble.value}"), words("lost.waiting")]
        return words(self.title), [words(f"advice.{advice}") if advice else words(self.hint), words("lost.waiting")]

    def draw(self, canvas: Canvas) -> None:
        widgets = self.lay_out(canvas)
        self.below.draw_still(canvas)
        if self._veil is None or self._veil.get_size() != canvas.size:
            self._veil = pygame.Surface(canvas.size, pygame.SRCALPHA)
            self._veil.fill(VEIL)
        canvas.surface.blit(self._veil, (0, 0))
        self.draw_widgets(canvas, widgets)

    def chosen(self, key: str) -> Transition | None:
        if key == "end":
            self.play.stop()
        else:
            self.play.resume()
        self.closed = True
        return None

    def back(self) -> Transition | None:
        return self.chosen("go-on") if self.escape_goes_on else None


def stopped(around: Surroundings, play: Play, below: Page) -> OverPage:
    """After the stop control: rest, go on, say that it hurts, or end."""
    choices = {"go-on": "common.go-on", "hurts": "common.hurts", "end": "pause.end"}
    page = OverPage(around, play, below, "pause.title", "", choices)
    page.escape_goes_on = True
    return page


def after_pain(around: Surroundings, play: Play, below: Page) -> OverPage:
    """After pain below the stop level."""
    choices = {"go-on": "hurts-after.go-on", "end": "hurts-after.end"}
    page = OverPage(around, play, below, "hurts-after.title", "", choices)
    page.going_on_first = False
    return page


def sensor_lost(around: Surroundings, play: Play, below: Page) -> OverPage:
    """The sensor is silent; the session waits for it."""
    return OverPage(around, play, below, "lost.title", "lost.hint", {"end": "lost.end", "hurts": "common.hurts"})
