"""The frame round a workshop: the sentence of now, what is made, the moon that keeps the rest, and the controls."""

import math
from collections.abc import Hashable
from dataclasses import replace

from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import palette
from musclewood.games.kit.paper import PaperBox
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.base.page import Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.pool import draw_moon_clock
from musclewood.games.screens.base.scenery import Scene
from musclewood.games.screens.base.scenes import POOL
from musclewood.games.workshops import Picture, PictureSetup, Workshop, workshops

BARE = Scene("night", ())
BLIND_S = 0.2  # our choice: single packets that are lost must not make the words flicker
MISSED_S = 2.0  # how long a missed rep is spoken of
LONG_HOLD_S, STRONG = 4.0, 0.5  # from here on people hold their breath; our choice, half a maximum and one slow breath


class WorkPage(Page):
    """Hosts the workshop's own picture and adds nothing to what counts."""

    scene = BARE
    wren = False
    eager = False

    def __init__(self, around: Surroundings, play: Play) -> None:
        super().__init__(around)
        self.play = play
        self._picture: Picture | None = None
        self._made: tuple[Hashable, Picture] | None = None  # put there by a thread
        self._made_for: Hashable = None
        self._since_missed_s = math.inf
        self._blind_s = 0.0
        self._phase = ""
        self._rest_s = 1.0
        self._name = play.view.workshop or ""

    @property
    def workshop(self) -> Workshop | None:
        return workshops().get(self._name)

    def state(self) -> Hashable:
        rep = self.play.rep
        if rep is None:
            return None
        return (
            self.sentence_key(rep),
            self.play.view.advice,
            rep.made,
            rep.reps,
            rep.set_number,
            rep.sets,
            math.ceil(rep.left_s),
        )

    def sentence_key(self, rep: RepView) -> str:
        """What to say now."""
        missed = rep.phase in ("release", "rest", "set rest") and self._since_missed_s < MISSED_S
        if missed and rep.last_verdict == "unreadable":
            return "frame.unreadable"
        if self._blind_s < BLIND_S:
            rep = replace(rep, readable=True)
        return "frame.missed" if missed and rep.readable else sentence_of(rep)

    def _main(self, canvas: Canvas, rep: RepView, at: Point, width: float) -> Widget:
        """The sentence of now; what to do about a signal that is gone is known from its last second."""
        key, advice = self.sentence_key(rep), self.play.view.advice
        if key == "frame.unreadable" and advice:
            return sentence(canvas, self.theme, self.theme.words.told(advice), at, width, Look(size=BODY, bold=True))
        told = self.theme.words(key) + (" " + self.theme.words("frame.breathe") if breathes(rep) else "")
        return sentence(canvas, self.theme, told, at, width, Look(size=LARGE, bold=True))

    def update(self, dt_s: float) -> Transition | None:
        rep = self.play.rep
        self._since_missed_s += dt_s
        self._blind_s = 0.0 if rep is None or rep.readable else self._blind_s + dt_s
        if rep and rep.phase != self._phase:
            if self._phase == "effort" and rep.last_verdict not in (None, "counted"):
                self._since_missed_s = 0.0
            self._phase, self._rest_s = rep.phase, max(0.1, rep.left_s)
        return super().update(dt_s)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, rep = self.theme, self.theme.words, self.play.rep
        controls = always_there(canvas, theme)
        if rep is None:
            return controls
        left, top, width, _ = self.workshop.words if self.workshop else (24.0, 24.0, 460.0, 230.0)
        main = self._main(canvas, rep, (left, top), width)
        told = words("frame.reps", made=rep.made, total=rep.reps)
        if rep.sets > 1:
            told += "  ·  " + words("frame.sets", number=rep.set_number, total=rep.sets)
        count = sentence(canvas, theme, told, (left + 8, main.box.bottom + 12), width, Look(size=SMALL, margin=14))
        slips = [main, count]
        if rep.reps <= 12:
            slips.append(_pips(rep, left + 8, bottom_of(slips) + 10))
        if rep.phase in ("rest", "set rest"):
            seconds = sentence(
                canvas, theme, words("calibration.seconds", count=math.ceil(rep.left_s)), (0, 0), 200, _COUNT
            )
            slips.append(seconds.moved(MOON[0] - seconds.box.width / 2, MOON[1] + 74))
        return [*slips, *controls]

    def draw_still(self, canvas: Canvas) -> None:
        self._prepare_picture(canvas)
        rep, rules = self.play.rep, self.play.rules
        if self._picture is None or rep is None or rules is None:
            self._backdrop(canvas)
        else:
            self._picture.draw(canvas, rules, rep, self.time_s)
        if rep and rep.phase in ("rest", "set rest"):
            draw_moon_clock(canvas, MOON, 60, 1 - rep.left_s / self._rest_s)

    def settle(self) -> None:
        """Wait for what the picture paints in threads, for stills."""
        settle = getattr(self._picture, "settle", None)
        if settle:
            settle()

    @property
    def picture_ready(self) -> bool:
        """Whether the workshop's own picture is there, rather than the bare evening before it."""
        return self._picture is not None

    def _prepare_picture(self, canvas: Canvas) -> None:
        """Prepare the workshop's picture for this size, in the background; it comes up when it is ready."""
        workshop = self.workshop
        if workshop is None:
            return
        wanted = (workshop.name, canvas.size, self.theme.still)
        if wanted != self._made_for:
            self._made_for, self._picture = wanted, None
            box = self.around.backdrops.box if self.around.backdrops.at_once else PaperBox(canvas.scale)
            self._make(workshop, PictureSetup(box, self.theme.still), wanted)
        if self._picture is None and self._made is not None and self._made[0] == wanted:
            self._picture = self._made[1]

    def _make(self, workshop: Workshop, stage: PictureSetup, wanted: Hashable) -> None:
        def make() -> None:
            self._made = (wanted, workshop.picture()(stage))

        if self.around.backdrops.at_once:
            make()
        else:
            stage.box.bake_behind(workshop.art, then=make)

    def chosen(self, key: str) -> Transition | None:
        return None

    def back(self) -> Transition | None:
        return None


MOON = (1150.0, 120.0)
_COUNT = Look(size=SMALL, bold=True, margin=12)


def sentence_of(rep: RepView) -> str:
    """The key of the one sentence that helps now."""
    if not rep.readable:
        return "frame.unreadable"
    if rep.note == "tired" and rep.phase in ("release", "rest", "set rest"):
        return "frame.tired"
    if rep.note == "easier" and rep.phase in ("rest", "ready"):
        return "frame.easier"
    match rep.phase:
        case "ready":
            return OF_KIND[rep.kind].ready
        case "effort" if OF_KIND[rep.kind].traits.still:
            return "frame.relax-stirred" if rep.over else OF_KIND[rep.kind].going
        case "effort":
            return _while_working(rep)
        case "set rest":
            return "frame.set-rest"
        case _:
            return f"frame.{rep.phase}"


def breathes(rep: RepView) -> bool:
    """Whether to breathe on is said, all through the effort: holds that are long or strong tempt to hold the breath."""
    kind = OF_KIND[rep.kind]
    held = rep.phase == "effort" and rep.readable and kind.pattern.steers and not kind.traits.still
    return held and (rep.hold_s >= LONG_HOLD_S or rep.target >= STRONG)


def _while_working(rep: RepView) -> str:
    """The muscle that must not join in is spoken of first: more effort would only bring more of it."""
    if rep.opposite is not None and rep.opposite_ceiling is not None and rep.opposite > rep.opposite_ceiling:
        return "frame.opposite"
    if rep.over:
        return "frame.less"
    if rep.difference is not None and rep.difference_limit is not None and abs(rep.difference) > rep.difference_limit:
        return "frame.alike"
    kind = OF_KIND[rep.kind]
    if not kind.pattern.steers:  # over before anybody could read another sentence
        return kind.ready if rep.held_s < rep.hold_s else "frame.release"
    if not rep.in_band:
        return "frame.more" if rep.pattern_target is None or max(rep.level) < rep.pattern_target else "frame.less"
    return "frame.at-least" if rep.at_least else kind.going


def _pips(rep: RepView, left: float, top: float) -> Widget:
    """One peg hole a rep: filled when it is made."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        for number in range(rep.reps):
            at = (box.left + 22 + 30 * number, box.top + box.height / 2)
            canvas.disc(theme.ink, at, 11)
            canvas.disc(palette().paper["lamp-deep"] if number < rep.made else theme.slip, at, 8)
            if number < rep.made:
                canvas.disc(theme.ink, at, 3)

    return Widget(Box(left, top, 44 + 30 * (rep.reps - 1), 40), picture=draw)


class BreakPage(Page):
    """Between two workshops: the moon over the pool."""

    scene = POOL
    eager = False

    def __init__(self, around: Surroundings, play: Play) -> None:
        super().__init__(around)
        self.play = play
        self._longest_s = max(0.1, play.view.left_s)

    def state(self) -> Hashable:
        return math.ceil(self.play.view.left_s)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        main = sentence(
            canvas,
            theme,
            words("frame.tired" if self.play.view.note == "tired" else "frame.break"),
            (40, 34),
            620,
            Look(size=LARGE, bold=True),
        )
        count = words("calibration.seconds", count=math.ceil(self.play.view.left_s))
        slip = sentence(canvas, theme, count, (0, 0), 200, _COUNT)
        return [main, slip.moved(330 - slip.box.width / 2, 492), *always_there(canvas, theme)]

    def paint(self, canvas: Canvas) -> None:
        draw_moon_clock(canvas, (330, 400), 74, 1 - self.play.view.left_s / self._longest_s)

    def chosen(self, key: str) -> Transition | None:
        return None

    def back(self) -> Transition | None:
        return None
