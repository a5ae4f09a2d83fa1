"""Today: the village at dusk. What is asked has a light in its window.

The pages behind it are loaded when they are first asked for (`ahead.py` has them ready before that), so that nobody
waits for them at the start.
"""

from collections.abc import Hashable
from functools import partial

from musclewood.games.engine.wishes import Standing
from musclewood.games.home.post import Post
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.kit.slips import HANG
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, button, in_rows, sentence, stacked
from musclewood.games.kit.words import Words
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.life import Village
from musclewood.games.screens.base.page import WREN_ROOM, Leave, Page, Push, Surroundings, Transition
from musclewood.games.screens.base.scenery import Scene
from musclewood.games.screens.base.scenes import PLACE_BOXES, PLACES, name_spot, village
from musclewood.games.screens.base.table import draw_table
from musclewood.profiles.journal.records import PRACTICE_SOURCES
from musclewood.profiles.plan.dose import DayPlan
from musclewood.profiles.plan.reasons import RESTFUL, Reason

SIGN_GAP = 16.0
BOARDS_TOP = 86.0
LOOK_AGAIN_S = 5.0  # our choice: soon enough for somebody who waits for the rest to be over
RIGHT_SIDE = 590.0  # room beside the message


class TodayPage(Page):
    """The first screen, and the one that everything returns to."""

    def __init__(self, around: Surroundings, day: Day) -> None:
        super().__init__(around)
        self.day = day
        self.scene = self._scene()
        self.life = Village()
        self._looked_s, self._post_s = 0.0, 0.0
        if (post := day.post) is not None:
            day.letters = lambda: _letters(around, post)

    @property
    def _standing(self) -> Standing:
        """What the village wishes for; nothing where somebody chose plain evenings."""
        return Standing() if self.theme.settings.plain_evening else self.day.standing

    def _scene(self) -> Scene:
        return village("dusk", self.day.awake, self.day.season, self._standing.built, self.day.guest)

    def update(self, dt_s: float) -> Transition | None:
        """Looks again while there is something to wait for, so that nobody has to open the program anew."""
        self._looked_s += dt_s
        self._post_s -= dt_s
        if self.day.post is not None and self._post_s <= 0:
            self._post_s = LOOK_AGAIN_S
            self.day.post.look()
        if self._looked_s >= LOOK_AGAIN_S and self.day.plan and self.day.plan.not_before:
            self._looked_s = 0.0
            self.day.refresh()
        return super().update(dt_s)

    def state(self) -> Hashable:
        named = self.focus if self.focus.startswith("place:") else ""
        self.scene = self._scene()
        return (self.day.plan, self.day.retest, named, self._standing, post_said(self.theme.words, self.day))

    def build(self, canvas: Canvas) -> list[Widget]:
        signs = self._signs(canvas)
        widgets = self._message(canvas, room=min(sign.box.left for sign in signs) - 72)
        places = [
            Widget(PLACE_BOXES[place], key=f"place:{place}", bare=True, label=self._called(place)) for place in PLACES
        ]
        keys = sentence(canvas, self.theme, self.theme.words("keys.hint"), (0, 0), 640, Look(size=SMALL, margin=12))
        keys = keys.moved(16, 712 - keys.box.height)
        return [*widgets, *self._names(canvas, keys), *places, *signs]

    def _message(self, canvas: Canvas, room: float) -> list[Widget]:
        """What today asks, as wide as the boards on the right allow."""
        words = self.theme.words
        first, second, call = self._told()
        head = sentence(canvas, self.theme, first, (40, 34), room, Look(size=LARGE, bold=True))
        widgets = [head]
        if second:
            widgets.append(sentence(canvas, self.theme, second, (56, head.box.bottom + 12), room - 16, Look(size=BODY)))
        if call:
            at = (56, bottom_of(widgets) + WREN_ROOM)
            due = self.day.retest is not None
            if self._hurt:  # the calm way first, and nothing that calls to play
                calm = button(
                    canvas, self.theme, "enough", words("today.enough"), at, first=True, icon=icons.door, size=LARGE
                )
                play = button(canvas, self.theme, "begin", words(call), (56, calm.box.bottom + 26))
                return [calm, play, *widgets]
            begin = button(canvas, self.theme, "begin", words(call), at, first=True, icon=icons.arrow, size=LARGE)
            widgets.insert(0, begin)
            if due:  # one that is due may wait for another day
                later = button(canvas, self.theme, "not-now", words("retest.not-now"), icon=icons.leaf_turn)
                widgets.insert(1, later.moved(56, begin.box.bottom + 26))
            elif self._wish():  # beside the button, where nothing can be pressed
                left, wish = begin.box.right + 22, Look(size=SMALL, margin=16)
                slip = sentence(canvas, self.theme, self._wish(), (left, 0), room + 40 - left, wish)
                widgets.append(slip.moved(left, begin.box.top + (begin.box.height - slip.box.height) / 2))
        return widgets

    def _told(self) -> tuple[str, str, str]:
        """What today asks, one more sentence, and what the large button says, if there is one."""
        words, plan = self.theme.words, self.day.plan
        practice = "today.practice" if self.day.offered else ""
        if self.day.retest is not None:
            return words("retest.today"), words("retest.why"), "retest.begin"
        if plan is None:
            return words("today.no-plan"), words("today.no-plan-hint"), "letters.title" if self.day.post else ""
        if not plan.exercises:
            reason = plan.reasons[0] if plan.reasons else Reason.DONE
            return words(f"reasons.{reason}"), words("today.rest-story") if reason in RESTFUL else "", practice
        return words(f"today.ask.{self.day.first_place}"), self._second(plan), "today.begin"

    @property
    def _hurt(self) -> bool:
        """Whether pain is the reason that nothing is asked today."""
        plan = self.day.plan
        return bool(plan and not plan.exercises and plan.reasons and plan.reasons[0] is Reason.PAIN)

    def _wish(self) -> str:
        """What the village asks for now; nothing on a day without work, or on a plain evening."""
        if self.theme.settings.plain_evening or self.day.plan is None or not self.day.plan.exercises:
            return ""
        asked = self._standing.asked
        return self.theme.words(f"village.{asked}.ask" if asked else "village.complete")

    def _second(self, plan: DayPlan) -> str:
        """Why today is not as usual, if it is not; else how much there is to make, and what became harder or easier."""
        words = self.theme.words
        if plan.reasons:
            return words(f"reasons.{plan.reasons[0]}")
        return " ".join([words.count("today.count", plan.reps), *self._changes(plan)])

    def _changes(self, plan: DayPlan) -> list[str]:
        """What scaling moved: in one sentence where it went one way, else by exercise."""
        words = self.theme.words
        told = {change.title: words(f"today.scaled.{change.reason}") for change in plan.changes}
        alike = len(set(told.values())) == 1
        return [next(iter(told.values()))] if alike else [f"{title}: {sentence}" for title, sentence in told.items()]

    def _called(self, place: str) -> str:
        """The name of a place that is lit; any other shows what it is called when it is looked at."""
        return self.theme.words(f"place.{place}") if place in self.day.awake else ""

    def _names(self, canvas: Canvas, keys: Widget) -> list[Widget]:
        """What keys do, and clear of it the names of the places that are lit, and of the one that is looked at."""
        looked_at = self.focus.removeprefix("place:") if self.focus.startswith("place:") else ""
        widgets = [keys]
        for place in PLACES:
            if place not in self.day.awake and place != looked_at:
                continue
            name = self.theme.words(f"place.{place}")
            text = name if place in self.day.awake else self.theme.words("place.not-today", place=name)
            slip = sentence(canvas, self.theme, text, (0, 0), 420, Look(size=SMALL, bold=True, margin=14))
            x, y = name_spot(place)
            left = min(max(16.0, x - slip.box.width / 2), 1264 - slip.box.width)
            widgets.append(_clear_of(widgets, slip.moved(left, min(y, 712 - slip.box.height))))
        return widgets

    def _signs(self, canvas: Canvas) -> list[Widget]:
        """Three boards that hang from the hornbeam's bough."""
        signs = []
        for key, icon in (("shelf", icons.pot), ("settings", icons.sliders), ("leave", icons.door)):
            signs.append(self._sign(canvas, key, self.theme.words(f"today.{key}"), icon))
        post = self.day.post
        letters = self._sign(canvas, "post", post_said(self.theme.words, self.day), icons.letter)
        wide = sum(sign.box.width for sign in signs) + 2 * SIGN_GAP
        more = [letters] if post is not None else []
        if wide > RIGHT_SIDE:  # longer words, larger letters: below one another
            broad = max(sign.box.width for sign in (*signs, *more))
            return stacked([*signs, *more], 1262 - broad, BOARDS_TOP, HANG, alike=True)
        row = in_rows(signs, 1262 - wide, BOARDS_TOP, wide + 1, SIGN_GAP)
        return [*row, *(one.moved(1262 - one.box.width, bottom_of(row) + HANG) for one in more)]

    def _sign(self, canvas: Canvas, key: str, text: str, icon: Drawing) -> Widget:
        look = Look(size=SMALL, bold=True, shape="sign", margin=16)
        plain = sentence(canvas, self.theme, text, (0, 0), 460, look, key)
        return Widget(plain.box._replace(width=plain.box.width + 62), plain.lines, key, look, icon)

    def paint(self, canvas: Canvas) -> None:
        boards = [widget.box for widget in self.shown() if widget.look.shape == "sign"]
        for box in boards:
            if box.top == boards[0].top:  # the first row hangs from the bough; a board below hangs from another
                for share in (0.16, 0.84):
                    x = box.left + box.width * share
                    canvas.line(palette().paper["wood-dark"], [(x, 0), (x, box.top)], 3)
        if self.stands():
            self.life.draw(canvas, self.day.awake, self.time_s, self.theme.still, self.scene)
        if not self.theme.settings.plain_evening:
            draw_table(canvas, *self.day.reckoning.of(self.day.shelf))

    def chosen(self, key: str) -> Transition | None:
        if key == "settings":
            from musclewood.games.screens.village.settings import SettingsPage

            return Push(SettingsPage(self.around, self.day))
        if key == "shelf":
            from musclewood.games.screens.base.shelf import ShelfPage

            return Push(ShelfPage(self.around, self.day.shelf, lambda: self.day.evenings(False)))
        if key in ("leave", "enough"):
            return Leave()
        asks_for_one = key == "begin" and self.day.plan is None
        if (key == "post" or asks_for_one) and self.day.post is not None:
            return Push(_letters(self.around, self.day.post))
        if key == "not-now":
            self.day.retest = None
            return None
        self.day.testing = key == "begin" and self.day.retest is not None
        place = key.removeprefix("place:")
        if not self.day.offered or (key != "begin" and place not in self.day.awake):
            return None
        self.day.want(self.day.first_place if key == "begin" and self.calls else place)
        return Push(self._way_in())

    @property
    def calls(self) -> bool:
        """Whether the large button calls to what is ordered for now."""
        return bool(self.day.plan and self.day.plan.exercises and self.day.retest is None)

    def _way_in(self) -> Page:
        """To the sensor at once where the order is to be done with one that can be understood; else to all sources."""
        from musclewood.games.screens.setup.sensors import SensorsPage
        from musclewood.games.screens.setup.source import SourcePage
        from musclewood.games.screens.village.cautions import CautionsPage

        onward: Page = SourcePage(self.around, self.day)
        sensors = self.day.sensors
        if self.day.offered[0] == "ble" and sensors is not None and sensors.usable and not self.around.muscle_steers:
            practice = set(self.day.offered) & set(PRACTICE_SOURCES)
            onward = SensorsPage(
                self.around, self.day, partial(SourcePage, self.around, self.day) if practice else None
            )
        confirmed = self.day.order_name in self.theme.settings.cautions_for
        return onward if confirmed else CautionsPage(self.around, self.day, onward)

    def back(self) -> Transition | None:
        self.focus = "leave"
        return None


def _letters(around: Surroundings, post: Post) -> Page:
    from musclewood.games.screens.village.letters import LettersPage

    return LettersPage(around, post)


def post_said(words: Words, day: Day) -> str:
    """What stands where letters are fetched and sent: what there is to do, with what waits."""
    post = day.post
    if post is None or not (post.address or post.stick):
        return words("today.post")
    said = words("letters.stick" if post.stick else "letters.visit")
    return f"{said} ({post.waiting})" if post.waiting else said


def _clear_of(others: list[Widget], slip: Widget) -> Widget:
    """The slip, raised or lowered as little as keeps it from lying on another."""
    left, top, high = slip.box.left, slip.box.top, slip.box.height
    tops = [top]
    tops += [other.box.top - high - 2 for other in others] + [other.box.bottom + 2 for other in others]
    for wanted in sorted((y for y in tops if 0 <= y <= 714 - high), key=lambda y: abs(y - top)):
        moved = slip.moved(left, wanted)
        if not any(moved.box.grown(-1).overlaps(other.box) for other in others):
            return moved
    return slip
