"""The bench with a sensor running: the signal, the body, a test and its result; Enter chooses,
Escape stops or leaves."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from typing import Literal

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.figures import figure, sites_of
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, from_left, picture, sheet, tag, words_at
from musclewood.games.desk.bench import pictures
from musclewood.games.desk.bench.found import Found, told
from musclewood.games.examining.steps import Shown, Subject
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.running.bench import Bench
from musclewood.games.running.errors import CommandError
from musclewood.games.running.subjects import KINDS, Choice, Kind, examination_of
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.bodies import Site
from musclewood.games.screens.base.pace import Pace
from musclewood.games.screens.base.page import Back, Surroundings, Transition
from musclewood.games.workshops import SoundCue
from musclewood.profiles.errors import TrustError
from musclewood.profiles.home.pads import STEPS_MM, PadPlace, PadPlaces
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.visits.entries import Examination
from musclewood.profiles.visits.standing import references_of
from musclewood.signal.errors import SensorError

LEFT, RIGHT = Box(24, 92, 776, 536), Box(816, 92, 440, 536)
# A muscle that answers must be seen to answer at once: while the bench runs, drawing may take most of one core. Our
# choice.
LIVE = Pace(60.0, 30.0, 0.7)
SCALE_W = 116.0  # room for what the edges of the paper mean
# What is heard: a bell to begin, a lower one to let go.
HEARD = {
    "ready": SoundCue("bell", 4),
    "let go": SoundCue("bell", 0),
    "rest": SoundCue("bell", 0),
    "done": SoundCue("phrase"),
}
Leaving = Callable[[], None]


class BenchPage(DeskPage):
    """Leads one `Bench` on the muscles of an order; `left` is called once the page is left and the source is free."""

    def __init__(
        self, around: Surroundings, office: Office, order: Prescription, bench: Bench, left: Leaving = lambda: None
    ) -> None:
        super().__init__(around)
        self.office, self.order, self.bench, self._left = office, order, bench, left
        self.trouble = ""
        self.found: Found | None = None
        self.kept = 0
        self.first_involved = self.at_once = False
        self._doing = ""
        self._pads = PadPlaces(office.clinic.root / "visits" / "pads" / f"{order.patient}.json")
        around.speaker.learn({})
        self._refer()

    @property
    def pace(self) -> Pace:
        return LIVE

    @property
    def asks(self) -> Shown | None:
        """What the test under way shows."""
        return self.bench.exam.shown if self.bench.exam and self.bench.exam.ended is None else None

    def _refer(self) -> None:
        """Activation is measured against what earlier tests found."""
        try:
            found = references_of(self.office.clinic.visits.entries(self.order.patient))
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return
        known = {one.channel: found[one.id] for one in self.order.muscles if one.id in found}
        if known:
            self.bench.refer(known)

    # -- time

    def update(self, dt_s: float) -> Transition | None:
        try:
            self.bench.advance(dt_s)
        except SensorError as error:
            self.trouble = as_sentence(self.theme.words, error)
        exam = self.bench.exam
        if exam is not None:
            self._hear(exam.shown.doing)
            if exam.ended is not None:
                self._over()
        return super().update(dt_s)

    def _hear(self, doing: str) -> None:
        if doing != self._doing:
            self._doing = doing
            self.eager = doing != "pain"  # no number is chosen for anybody
            if doing in HEARD:
                self.around.speaker.play(HEARD[doing])

    def _over(self) -> None:
        exam, self.bench.exam = self.bench.exam, None
        assert exam is not None
        result = exam.result
        if result is not None:
            self.found, self.focus = Found(result, tuple(exam.pain)), "keep"
        else:
            words = self.theme.words
            why = words(f"measuring.{exam.note}") if exam.note else ""
            self.trouble = " ".join(part for part in (words(f"desk.bench.ended-{exam.ended}"), why) if part)

    # -- what is shown

    def state(self) -> Hashable:
        shown, found = self.asks, self.found
        quality = self.bench.quality
        steps = (shown.doing, shown.subjects, shown.number, shown.note) if shown else None
        result = (tuple(found.trials()), found.result) if found else None
        return (
            steps,
            repr(result),
            self.trouble,
            self.bench.recording,
            quality.verdict if quality else None,
            self.advice(),
            (self.kept, self.first_involved, self.at_once, self._place()),
        )

    def turned(self) -> Hashable:
        shown = self.asks
        return (shown.doing if shown else "", self.found is not None)

    def advice(self) -> str:
        """The strongest fault's advice, in the reader's language."""
        for channel in range(self.bench.channels):
            for text in self.bench.advice(channel):
                return self.theme.words(f"advice.{text}")
        return ""

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.bench.title", code=self.order.patient)
        head = sentence(canvas, theme, title, (24, 20), 420, Look(size=SMALL, bold=True, margin=14))
        said = self.trouble or self.advice() or words("desk.bench.fine" if self.bench.quality else "desk.bench.waiting")
        line = sentence(
            canvas, theme, said, (head.box.right + 18, 20), 1238 - head.box.right, Look(size=FINE, margin=14)
        )
        papers = [sheet(LEFT), sheet(RIGHT)]
        names = [
            words_at(
                canvas, theme, self._name(channel), (self._plot(channel).left, box.top + 6), 560, size=DENSE, bold=True
            )
            for channel in range(self._shown_channels)
            for box in [self._row(channel)]
        ]
        right = self._result(canvas) if self.found else self._cue(canvas) if self.asks else self._choices(canvas)
        return [head, line, *papers, *names, *right, *self._foot(canvas)]

    def _name(self, channel: int) -> str:
        words, quality = self.theme.words, self.bench.quality
        named = [(one.channel, one.name, one.side) for one in self.asks.subjects] if self.asks else []
        named += [(one.channel, one.name, one.side) for one in self.order.muscles]
        muscle = next(((name, side) for place, name, side in named if place == channel), None)
        name = f"{muscle[0]}, {words(f'desk.value.side.{muscle[1]}')}" if muscle else self.bench.source.labels[channel]
        verdict = words(f"desk.bench.verdict-{quality.verdict[channel]}") if quality else ""
        return f"{name}{': ' if verdict else ''}{verdict}"

    def _foot(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        if self.asks is not None:
            return foot(canvas, self.theme, [Tool("stop", words("desk.bench.stop"), icons.stop_sign)])
        if self.found is not None:
            keep = [Tool("keep", words("desk.bench.keep"), marks.tick, first=True)] if self.found.result else []
            return foot(canvas, self.theme, [Tool("drop", words("desk.bench.drop"), marks.cross)], keep)
        recording = "desk.bench.record-end" if self.bench.recording else "desk.bench.record"
        back = "desk.bench.to-order" if self.kept else "common.back"
        tools = [Tool("back", words(back), icons.leaf_turn, first=bool(self.kept))]
        return foot(canvas, self.theme, [*tools, Tool("record", words(recording), marks.ring)])

    # -- the right sheet

    def _choices(self, canvas: Canvas) -> list[Widget]:
        """The body with the pads, where they lay, and the tests to choose."""
        theme, words = self.theme, self.theme.words
        body = picture(Box(RIGHT.left + 14, RIGHT.top + 14, 150, 232), figure(self._sites()))
        left, top = RIGHT.left + 176, RIGHT.top + 14
        place = self._place()
        pads = [
            tag(canvas, theme, key, words(f"pads.{_way(key, value)}", mm=abs(value)), size=FINE, width=250)
            for key, value in (("up", place.up_mm), ("out", place.out_mm))
        ]
        ways = [
            tag(
                canvas,
                theme,
                "first",
                words(f"desk.bench.first-{str(self.first_involved).lower()}"),
                size=FINE,
                width=250,
            )
        ]
        if self.bench.channels > 1:
            ways.append(
                tag(
                    canvas,
                    theme,
                    "at-once",
                    words(f"desk.bench.at-once-{str(self.at_once).lower()}"),
                    size=FINE,
                    width=250,
                )
            )
        placed = []
        for one in [*pads, *ways]:
            placed.append(one.moved(left, top))
            top += one.box.height + 8
        top = max(top, body.box.bottom) + 10
        tests = []
        for kind in KINDS:
            made = tag(canvas, theme, f"test:{kind}", words(f"desk.bench.test-{kind}"), size=DENSE, width=400)
            tests.append(made.moved(RIGHT.left + 20, top))
            top += made.box.height + 8
        return [body, *tests, *placed]

    def _cue(self, canvas: Canvas) -> list[Widget]:
        """What the patient does now, large enough to be read across the room."""
        theme, words, shown = self.theme, self.theme.words, self.asks
        assert shown is not None
        key = f"desk.bench.do-{shown.doing.replace(' ', '-')}"
        size = LARGE * (1.0 if shown.doing in ("place", "pain") else 1.5)
        text = words_at(
            canvas, theme, words(key), (RIGHT.left + 24, RIGHT.top + 18), RIGHT.width - 48, size=size, bold=True
        )
        top = text.box.bottom + 8
        whom = "; ".join(f"{one.name}, {words(f'desk.value.side.{one.side}')}" for one in shown.subjects)
        placed = [text]
        if whom:
            placed.append(words_at(canvas, theme, whom, (RIGHT.left + 24, top), RIGHT.width - 48, size=SMALL))
            top = placed[-1].box.bottom + 6
        if shown.of:
            count = words("desk.bench.trial", number=shown.number, of=shown.of)
            placed.append(words_at(canvas, theme, count, (RIGHT.left + 24, top), RIGHT.width - 48, size=DENSE))
            top = placed[-1].box.bottom + 6
        if shown.note:
            note = words(f"measuring.{shown.note}")
            placed.append(words_at(canvas, theme, note, (RIGHT.left + 24, top), RIGHT.width - 48, size=DENSE))
        if shown.doing == "place":
            body = picture(Box(RIGHT.left + 24, 330, 170, 284), figure(self._sites(shown.subjects)))
            on = tag(canvas, theme, "go on", words("desk.bench.placed"), first=True, width=220)
            return [*placed, body, on.moved(RIGHT.right - 18 - on.box.width, RIGHT.bottom - 20 - on.box.height)]
        if shown.doing == "pain":
            numbers = [tag(canvas, theme, f"pain:{value}", str(value), size=SMALL) for value in range(11)]
            rows = [
                from_left(numbers[first : first + 4], RIGHT.left + 30, 430 + 66 * row, 22)
                for row, first in enumerate((0, 4, 8))
            ]
            placed += [one for row in rows for one in row]
        return placed

    def _result(self, canvas: Canvas) -> list[Widget]:
        """What was found, and its trials to take out."""
        theme, words, found = self.theme, self.theme.words, self.found
        assert found is not None
        top, placed = RIGHT.top + 16, []
        for number, line in enumerate(told(words, found.result)):
            made = words_at(canvas, theme, line, (RIGHT.left + 22, top), RIGHT.width - 44, size=DENSE, bold=number == 0)
            placed.append(made)
            top = made.box.bottom + 8
        trials = found.trials()
        if trials:
            placed.append(words_at(canvas, theme, words("desk.bench.trials"), (RIGHT.left + 22, top), 396, size=FINE))
            top = placed[-1].box.bottom + 6
        columns = list(dict.fromkeys(side for side, *_ in trials))
        width = 400.0 / max(1, len(columns))
        below = dict.fromkeys(columns, top)
        for number, side in enumerate(columns):
            if side != "only":
                at = (RIGHT.left + 24 + width * number, top)
                placed.append(
                    words_at(canvas, theme, words(f"desk.value.role.{side}"), at, width - 10, size=FINE, bold=True)
                )
                below[side] = placed[-1].box.bottom + 4
        for side, number, value_uv, why in trials:
            text = f"{number}: {value_uv:.0f} µV"
            if why:
                text += f"\n{words(f'desk.bench.reason-{why}')}"
            mark = marks.cross if why else marks.tick
            made = tag(
                canvas,
                theme,
                f"trial:{side}:{number}",
                text,
                mark if side == "only" else None,
                size=FINE,
                width=width - 6,
            )
            placed.append(made.moved(RIGHT.left + 20 + width * columns.index(side), below[side]))
            below[side] += made.box.height + 6
        return placed

    def _sites(self, subjects: tuple[Subject, ...] = ()) -> list[Site]:
        named = [(one.name, str(one.side)) for one in subjects or self.order.muscles]
        return sites_of(named)

    def _place(self) -> PadPlace:
        return self._pads.of(self.order.muscles[0].id) or PadPlace()

    # -- what moves

    @property
    def _shown_channels(self) -> int:
        return min(2, self.bench.channels)

    def _row(self, channel: int) -> Box:
        height = LEFT.height / self._shown_channels
        return Box(LEFT.left, LEFT.top + channel * height, LEFT.width, height)

    def _plot(self, channel: int) -> Box:
        row = self._row(channel)
        return Box(row.left + SCALE_W, row.top + 40, row.width - SCALE_W - pictures.GAUGE_W - 44, row.height - 82)

    def draw(self, canvas: Canvas) -> None:
        super().draw(canvas)
        shown, last = self.asks, self.bench.last
        for channel in range(self._shown_channels):
            plot = self._plot(channel)
            pictures.trace(canvas, self.theme, plot, self.bench.trace, channel)
            gauge = Box(plot.right + 22, plot.top, pictures.GAUGE_W, plot.height)
            level = last.activation[channel] if last else math.nan
            known = channel in self.bench.references
            worked = shown is not None and any(one.channel == channel for one in shown.subjects[:1])
            if shown is not None and worked and not known:
                level = shown.level or math.nan
            level = level if known or worked else math.nan
            pictures.column(canvas, self.theme, gauge, level, shown.band if shown and worked else None)
            pictures.percent(canvas, self.theme, gauge, level)
        if shown is not None and shown.doing not in ("place", "pain", "keep"):
            pictures.seconds(canvas, self.theme, Box(RIGHT.left, RIGHT.bottom - 190, RIGHT.width, 170), shown.left_s)

    # -- what is chosen

    def chosen(self, key: str) -> Transition | None:
        head, _, rest = key.partition(":")
        exam = self.bench.exam
        if exam is not None and head in ("stop", "go on", "pain"):
            exam.answer(int(rest) if head == "pain" else head)
        elif head == "test":
            self._begin(rest)  # type: ignore[arg-type]
        elif head == "trial" and self.found is not None:
            side, _, number = rest.partition(":")
            self.found.turn(side, int(number))  # type: ignore[arg-type]
        elif head in ("keep", "drop"):
            self._keep() if head == "keep" else None
            self.found = None
        elif head in ("up", "out"):
            self._move_pads(head)
        elif head == "first":
            self.first_involved = not self.first_involved
        elif head == "at-once":
            self.at_once = not self.at_once
        elif head == "record":
            self._record()
        elif head == "back":
            return self.back()
        return None

    def back(self) -> Transition | None:
        """A test is stopped first; a result that nobody kept is dropped only by its own tag."""
        if self.bench.exam is not None:
            self.bench.exam.answer("stop")
            return None
        if self.found is not None:
            return None
        self.finish()
        self._left()
        return Back()

    def finish(self) -> None:
        self.bench.close()
        super().finish()

    def _begin(self, kind: Kind) -> None:
        first: Literal["involved", "uninvolved"] = "involved" if self.first_involved else "uninvolved"
        choice = Choice(kind, self.bench.channels, first=first, at_once=self.at_once and self.bench.channels > 1)
        needs = [one.channel for one in self.order.muscles if one.role == "involved"][:1]
        if kind in ("ladder", "opposite") and not set(needs) <= set(self.bench.references):
            self.trouble = self.theme.words("desk.bench.reference-first")
            return
        try:
            exam = examination_of(self.order, choice, self.bench.step_s, self.bench.refer)
        except CommandError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return
        self.trouble = ""
        self.bench.begin(exam)

    def _keep(self) -> None:
        found = self.found
        if found is None or found.result is None:
            return
        recording = self.bench.recording.name if self.bench.recording else None
        content = Examination(result=found.result, pain=found.pain, source=self.bench.source.kind, recording=recording)
        try:
            clinic = self.office.clinic
            clinic.visits.add(self.order.patient, content, self.office.clock(), clinic.settings.initials)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return
        self.kept += 1
        self.trouble = self.theme.words("desk.bench.kept")
        self.office.forget()
        self._refer()

    def _move_pads(self, way: str) -> None:
        now = self._place()
        value = now.up_mm if way == "up" else now.out_mm
        value = STEPS_MM[(STEPS_MM.index(value) + 1) % len(STEPS_MM)]
        moved = PadPlace(value, now.out_mm) if way == "up" else PadPlace(now.up_mm, value)
        try:
            self._pads.keep(self.order.muscles[0].id, moved)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)

    def _record(self) -> None:
        if self.bench.recording:
            self.trouble = self.theme.words("desk.bench.recorded", file=self.bench.recording.name)
            self.bench.end_recording()
            return
        now = self.office.clock()
        name = f"{self.order.patient}-{now:%Y%m%dT%H%M%S}.edf"
        try:
            self.bench.record(self.office.clinic.root / "visits" / "recordings" / name, now, self.order.patient)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)


def _way(axis: str, mm: int) -> str:
    """The key of the words for a step from the mark, as at home."""
    ways = {"up": ("down", "level", "up"), "out": ("in", "middle", "out")}[axis]
    return ways[1 + (mm > 0) - (mm < 0)]
