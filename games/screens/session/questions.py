"""The questions of a session: pain and effort from nought to ten, and which workshop."""

from collections.abc import Callable, Hashable

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.palette import Season
from musclewood.games.kit.typeface import LARGE
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, in_rows, sentence, stacked
from musclewood.games.screens.base import icons, scales
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.base.life import Village
from musclewood.games.screens.base.page import WREN_ROOM, Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.scenes import BENCH, PLACE_BOXES, village


class ScalePage(Page):
    """One question with eleven answers. `key` is its sentence, `what` 'pain' or 'effort'.

    Nothing is preselected. What a contraction answered is `pending` until it has been read back and confirmed.
    """

    scene = BENCH
    eager = False
    careful = True

    def __init__(self, around: Surroundings, play: Play | None, key: str, what: str) -> None:
        super().__init__(around)
        self.play, self.key, self.what = play, key, what
        self.pending: int | None = None

    def state(self) -> Hashable:
        return self.pending

    def turned(self) -> Hashable:
        return self.pending

    def handle(self, intent: Intent) -> Transition | None:
        """A number that is typed is looked at, as if somebody had moved to it; another key answers with it."""
        if intent.act is Act.DIGIT and self.pending is None:
            self.device = intent.device
            ten = self.focus == "1" and intent.channel == 0
            self.focus = "10" if ten else str(intent.channel)
            return None
        return super().handle(intent)

    def build(self, canvas: Canvas) -> list[Widget]:
        if self.pending is not None:
            return self._read_back(canvas, self.pending)
        words = self.theme.words
        ends = ("comfort.none", "comfort.most") if self.what == "pain" else ("rating.none", "rating.most")
        ask = sentence(canvas, self.theme, words(self.key), (40, 34), 820, Look(size=LARGE, bold=True))
        told = self.told(canvas, ask.box.bottom + 14)
        hint = self.muscle_hint(canvas, (56, bottom_of([ask, *told]) + 14), 620)
        pegs = scales.scale(canvas, self.theme, self.what, words(ends[0]), words(ends[1]))
        return [ask, *told, *hint, *pegs, *self.ways_out(canvas)]

    def _read_back(self, canvas: Canvas, value: int) -> list[Widget]:
        """What was understood, and whether that is right: a muscle may have meant something else."""
        theme, words = self.theme, self.theme.words
        told = sentence(
            canvas, theme, words(f"confirm.{self.what}", value=value), (40, 34), 720, Look(size=LARGE, bold=True)
        )
        tags = [
            button(canvas, theme, "again", words("confirm.again"), icon=icons.leaf_turn),
            button(canvas, theme, "yes", words("confirm.yes", value=value), icon=icons.arrow),
        ]
        placed = stacked(tags, 260, bottom_of([told]) + 2 * WREN_ROOM, 40, alike=True)
        hint = self.muscle_hint(canvas, (260, bottom_of(placed) + 40), 620)
        return [*placed, told, *hint, *self.ways_out(canvas)]

    def told(self, canvas: Canvas, top: float) -> list[Widget]:
        """What else is to be read."""
        return []

    def ways_out(self, canvas: Canvas) -> list[Widget]:
        """What stands beside the scale: in a session, the way to end it."""
        return always_there(canvas, self.theme, hurts=False, top=True)

    def paint(self, canvas: Canvas) -> None:
        if self.pending is None:
            scales.rail(canvas)

    def chosen(self, key: str) -> Transition | None:
        value, self.pending = self.pending, None
        if key == "yes" and value is not None:
            self.answered(value)
        elif key.isdigit() and self.device == "muscle":
            self.pending = int(key)
        elif key.isdigit():
            self.answered(int(key))
        self.focus = ""
        return None

    def answered(self, value: int) -> None:
        """The answer was meant."""
        if self.play is not None:
            self.play.answer(value)

    def back(self) -> Transition | None:
        self.pending, self.focus = None, ""
        return None


class PainPage(ScalePage):
    """How much it hurts now, answered to whoever asks."""

    def __init__(self, around: Surroundings, take: Callable[[int], None]) -> None:
        super().__init__(around, None, "comfort.ask", "pain")
        self._take = take

    def answered(self, value: int) -> None:
        self._take(value)


class HurtsPage(ScalePage):
    """'It hurts': how much. The session already stands still, and no contraction takes it back."""

    closed_to_muscle = frozenset({"back"})

    def __init__(self, around: Surroundings, play: Play) -> None:
        super().__init__(around, play, "hurts.ask", "pain")
        self._session, self.closed, self.told_pain = play, False, False

    def told(self, canvas: Canvas, top: float) -> list[Widget]:
        return [sentence(canvas, self.theme, self.theme.words("hurts.why"), (56, top), 620)]

    def ways_out(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        back = button(canvas, self.theme, "back", words("hurts.back"), icon=icons.leaf_turn, width=420)
        return [back.moved(1240 - back.box.width, 34)]

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            self.closed = True  # the session stands still until somebody says that it goes on
            return None
        return super().chosen(key)

    def answered(self, value: int) -> None:
        self._session.it_hurts(value)
        self.closed = self.told_pain = True

    def back(self) -> Transition | None:
        return super().back() if self.pending is not None else self.chosen("back")


class ChoosePage(Page):
    """Which of the workshops that may be used for the next exercise."""

    def __init__(self, around: Surroundings, play: Play, season: Season = "spring") -> None:
        super().__init__(around)
        self.play = play
        self.life = Village()
        self.scene = village("dusk", self.places, season)

    @property
    def places(self) -> tuple[str, ...]:
        exercise = self.play.view.exercise
        return exercise.workshops if exercise else ()

    def state(self) -> Hashable:
        return self.places

    def build(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        ask = sentence(canvas, self.theme, words("choose.ask"), (40, 34), 760, Look(size=LARGE, bold=True))
        tags = [button(canvas, self.theme, place, words(f"place.{place}"), first=True) for place in self.places]
        placed = in_rows(tags, 56, bottom_of([ask]) + WREN_ROOM, 900)
        doors = [
            Widget(PLACE_BOXES[place], key=f"door:{place}", bare=True, label=words(f"place.{place}"))
            for place in self.places
        ]
        hint = self.muscle_hint(canvas, (56, bottom_of(placed) + 24), 620)
        return [ask, *placed, *hint, *doors, *always_there(canvas, self.theme)]

    def paint(self, canvas: Canvas) -> None:
        if self.stands():
            self.life.draw(canvas, self.places, self.time_s, self.theme.still, self.scene)

    def chosen(self, key: str) -> Transition | None:
        place = key.removeprefix("door:")
        if place in self.places:
            self.play.answer(place)
        return None

    def back(self) -> Transition | None:
        return None
