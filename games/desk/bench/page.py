"""The bench with a sensor running: the signal, the body, a test and its result; Enter chooses,
Escape stops or leaves."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Literal

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.figures import sites_of
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, one_line, sheet, words_at
from musclewood.games.desk.bench import sheets
from musclewood.games.desk.bench.found import Found
from musclewood.games.desk.bench.live import Live
from musclewood.games.examining.steps import Shown
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import LINE_HEIGHT, SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.running.bench import Bench
from musclewood.games.running.errors import CommandError
from musclewood.games.running.subjects import Choice, Kind, examination_of
from musclewood.games.screens.base import icons
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
        self._places: dict[str, PadPlace] = {}  # of the muscles that the test under way shows
        self._live = Live(bench, LEFT, RIGHT)
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
            subjects = self.asks.subjects if self.asks else ()
            self._places = {one.muscle: place for one in subjects if (place := self._pads.of(one.muscle))}
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
            (self.kept, self.first_involved, self.at_once, tuple(self._places.items())),
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
        line = self._line(canvas, said, head.box.right + 18)
        papers = [sheet(LEFT), sheet(RIGHT)]
        names = [self._title(canvas, channel) for channel in range(self._live.channels)]
        right = sheets.fitted(canvas, theme, RIGHT, self._compose)
        return [head, line, *papers, *names, *right, *self._foot(canvas)]

    def _line(self, canvas: Canvas, said: str, left: float) -> Widget:
        """What is said beside the title, small enough to stay above the papers."""
        for share in sheets.SHARES:
            size = max(FINE * share, FINE / self.theme.letters.text_scale)
            made = sentence(canvas, self.theme, said, (left, 20), 1256 - left, Look(size=size, margin=14))
            if made.box.bottom < LEFT.top:
                break
        return made

    def _title(self, canvas: Canvas, channel: int) -> Widget:
        """Which muscle a trace is of, above its paper."""
        row, plot = self._live.row(channel), self._live.plot(channel)
        size = min(DENSE, (plot.top - row.top - 6) / LINE_HEIGHT / self.theme.letters.text_scale)
        width = LEFT.right - plot.left - 16
        text = one_line(canvas, self.theme, self._name(channel), width, size, bold=True)
        return words_at(canvas, self.theme, text, (plot.left, row.top + 6), width, size=size, bold=True)

    def _compose(self, setting: sheets.Setting) -> None:
        """The right sheet."""
        if self.found is not None:
            sheets.result(setting, self.found)
        elif (shown := self.asks) is not None:
            sheets.cue(setting, shown, self._places)
        else:
            sites = sites_of([(one.name, str(one.side)) for one in self.order.muscles])
            sheets.choices(setting, sites, self.first_involved, self.at_once if self.bench.channels > 1 else None)

    def _name(self, channel: int) -> str:
        words, quality = self.theme.words, self.bench.quality
        named = [(one.channel, one.name, one.side) for one in self.asks.subjects] if self.asks else []
        named += [(one.channel, one.name, one.side) for one in self.order.muscles]
        muscle = next(((name, side) for place, name, side in named if place == channel), None)
        label = self.bench.source.labels[channel]
        nobody = words("desk.bench.channel", name=label) if label.isdecimal() else label
        name = f"{muscle[0]}, {words(f'desk.value.side.{muscle[1]}')}" if muscle else nobody
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

    # -- what moves

    def draw(self, canvas: Canvas) -> None:
        self.lay_out(canvas)
        laid_out = (self._built_for, self.focus, self.stands(), self.busy)
        self._live.draw(canvas, self.theme, self.asks, laid_out, super().draw)

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
            self._move_pads(head, rest)
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

    def _move_pads(self, axis: str, muscle: str) -> None:
        """One offered step on, round and round."""
        now = self._places.get(muscle, PadPlace())
        value = now.up_mm if axis == "up" else now.out_mm
        value = STEPS_MM[(STEPS_MM.index(value) + 1) % len(STEPS_MM)]
        moved = PadPlace(value, now.out_mm) if axis == "up" else PadPlace(now.up_mm, value)
        try:
            self._pads.keep(muscle, moved)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return
        self._places = {**self._places, muscle: moved}

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
