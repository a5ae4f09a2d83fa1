"""One patient: how it goes in plain words, two small drawings, and what can be done."""

from __future__ import annotations

from collections.abc import Hashable
from contextlib import suppress

from musclewood.games.desk.base import charts, marks
from musclewood.games.desk.base.office import Office, ago, as_sentence, told
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, from_right, picture, sheet, tag, words_at
from musclewood.games.desk.bench.sources import SourcePage
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.form.page import FormPage
from musclewood.games.desk.pages.collecting import CollectPage
from musclewood.games.desk.pages.review import ReviewPage
from musclewood.games.desk.pages.starting import NewPatientPage
from musclewood.games.desk.pages.visits import VisitsPage
from musclewood.games.desk.pages.weeks import kept_by_week
from musclewood.games.home.own_sensors import described_in
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, sentence
from musclewood.games.kit.words import Words
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Push, Surroundings, Transition
from musclewood.profiles.caseload.attention import PatientSummary
from musclewood.profiles.caseload.summary import Maximum
from musclewood.profiles.errors import HandoverError, PrescriptionError, TrustError
from musclewood.profiles.visits.standing import tested_since_signed

TOP, LOW = 112.0, 628.0
FACTS_W = 600.0
CHART_X = 664.0
SHOWN_REASONS = 4


class PatientPage(DeskPage):
    """Figures of the last hand-over on the left, drawings on the right."""

    def __init__(self, around: Surroundings, office: Office, code: str) -> None:
        super().__init__(around)
        self.office, self.code = office, code
        self.trouble = ""
        self.weeks: list[float | None] | None = None
        self.soon(self._count_weeks)

    def update(self, dt_s: float) -> Transition | None:
        if self.office.stale and not self.busy:
            self.weeks = None
            self.soon(self._look)
        return super().update(dt_s)

    def _look(self) -> Transition | None:
        self.trouble = self.office.look(self.theme.words)
        return self._count_weeks()

    @property
    def summary(self) -> PatientSummary | None:
        """As the list has it, so that it follows when the list is looked up again."""
        return next((one for one in self.office.patients() if one.patient == self.code), None)

    def state(self) -> Hashable:
        return (self.trouble, self.busy, self.weeks is None, self.office.version)

    def _count_weeks(self) -> Transition | None:
        try:
            orders, ledger = self.office.clinic.orders(self.code), self.office.clinic.done(self.code)
            self.weeks = kept_by_week(orders, ledger, self.office.today)
        except (HandoverError, PrescriptionError, TrustError) as error:
            self.weeks, self.trouble = [], as_sentence(self.theme.words, error)
        return None

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, one = self.theme, self.theme.words, self.summary
        head = sentence(canvas, theme, self.code, (24, 22), 400, Look(size=LARGE, bold=True, margin=18))
        if one is None:
            return [head, *foot(canvas, theme, [Tool("back", words("common.back"), icons.leaf_turn)])]
        facts = self._facts(canvas, one)
        papers = [
            sheet(Box(24, TOP, FACTS_W, LOW - TOP)),
            sheet(Box(CHART_X - 16, TOP, 1256 - CHART_X + 16, LOW - TOP)),
        ]
        return [
            head,
            *papers,
            *facts,
            *self._drawings(canvas, one),
            *self._tags(canvas, one),
            *self._looks(canvas),
            *self._told(canvas, head),
        ]

    # -- in words

    def _facts(self, canvas: Canvas, one: PatientSummary) -> list[Widget]:
        """In the largest letters in which all of it finds room."""
        placed: list[Widget] = []
        for size in (SMALL, DENSE, FINE):
            placed = self._told_in(canvas, one, size)
            if bottom_of(placed) <= LOW - 10:
                return placed
        return [block for block in placed if block.box.bottom <= LOW - 10]

    def _told_in(self, canvas: Canvas, one: PatientSummary, size: float) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        left, width, top = 52.0, FACTS_W - 56, TOP + 18
        placed: list[Widget] = []

        def add(text: str, *, head: bool = False, indent: float = 0, gap: float = 6) -> None:
            nonlocal top
            letters = size + 4 if head else size
            block = words_at(canvas, theme, text, (left + indent, top), width - indent, size=letters, bold=head)
            placed.append(block)
            top = block.box.bottom + gap

        quiet = "desk.list.well" if one.last_handover else "desk.list.waiting"
        add(words("desk.card.attention" if one.attention else quiet), head=True)
        for reason in one.attention[:SHOWN_REASONS]:
            placed.append(picture(Box(left, top + 2, 26, 26), marks.urgency(reason.urgency)))
            add(told(words, reason), indent=38)
        top += 8
        add(words("desk.card.lately"), head=True)
        for line in self._lately(one):
            add(line, gap=4)
        return placed

    def _lately(self, one: PatientSummary) -> list[str]:
        """What the last hand-over says, a sentence each."""
        words, today = self.theme.words, self.office.today
        lines = [words("desk.card.handover", when=ago(words, one.last_handover, today))]
        if one.last_session:
            lines.append(words("desk.card.session", when=ago(words, one.last_session, today), count=one.sessions))
        if one.adherence_pct is not None:
            lines.append(words("desk.card.kept", value=round(one.adherence_pct)))
        lines += [line for maximum in one.maxima[:2] if (line := self._change(maximum))]
        if one.revision is not None:
            issued = one.issued.isoformat() if one.issued else ""
            review = one.review.isoformat() if one.review else "–"
            lines.append(words("desk.card.order", number=one.revision, issued=issued, review=review))
        return lines

    def _change(self, maximum: Maximum) -> str:
        if maximum.change_pct is None:
            return ""
        key = "real" if maximum.real else "chance"
        return self.theme.words(
            f"desk.card.{key}", muscle=_muscle(self.theme.words, maximum), change=f"{maximum.change_pct:+.0f}"
        )

    # -- drawn

    def _drawings(self, canvas: Canvas, one: PatientSummary) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        half = (LOW - TOP) / 2
        width = 1256 - CHART_X
        best = one.maxima[0] if one.maxima else None
        name = words("desk.card.strength", muscle=_muscle(words, best)) if best else words("desk.card.no-strength")
        title = words_at(canvas, theme, name, (CHART_X + 12, TOP + 16), width - 40, bold=True)
        widgets = [title]
        if best:
            interval = words(
                "desk.card.interval", now=round(best.estimate_uv), low=round(best.low_uv), high=round(best.high_uv)
            )
            note = words_at(canvas, theme, interval, (CHART_X + 12, title.box.bottom), width - 40, size=FINE)
            top = note.box.bottom + 4
            widgets += [note, picture(Box(CHART_X, top, width - 10, TOP + half - top), _strength(best))]
        kept = words_at(
            canvas, theme, words("desk.card.by-week"), (CHART_X + 12, TOP + half + 12), width - 40, bold=True
        )
        widgets.append(kept)
        if self.weeks is None:
            widgets.append(words_at(canvas, theme, words("desk.moment"), (CHART_X + 12, kept.box.bottom + 8), 400))
        elif any(value is not None for value in self.weeks):
            top = kept.box.bottom + 4
            widgets.append(picture(Box(CHART_X, top, width - 10, LOW - top - 6), _weeks(self.weeks)))
        else:
            widgets.append(
                words_at(canvas, theme, words("desk.card.no-weeks"), (CHART_X + 12, kept.box.bottom + 8), width - 40)
            )
        return widgets

    # -- what can be done

    def _tags(self, canvas: Canvas, one: PatientSummary) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        tags = [
            Tool("back", words("common.back"), icons.leaf_turn),
            Tool("report", words("desk.card.report"), marks.sheet_of_paper),
        ]
        if one.revision is not None:
            tags.append(Tool("from-last", words("desk.card.from-last"), marks.pen, first=True))
            tags.append(Tool("bench", words("desk.card.bench"), marks.ring))
        tags.append(Tool("from-template", words("desk.card.from-template"), marks.pen))
        tags.append(Tool("collect", words("desk.card.collect"), marks.tray))
        return foot(canvas, theme, tags)

    def _looks(self, canvas: Canvas) -> list[Widget]:
        """What is looked at together: the sessions, and what the clinic wrote down."""
        tags = [
            tag(canvas, self.theme, key, self.theme.words(f"desk.card.{key}"), icon, size=DENSE)
            for key, icon in (("review", marks.wave), ("visits", marks.pen))
        ]
        return from_right(tags, 1256, 78, 14)

    def _told(self, canvas: Canvas, head: Widget) -> list[Widget]:
        if not self.trouble:
            return []
        at = (head.box.right + 24, 30.0)
        return [sentence(canvas, self.theme, self.trouble, at, 620 - head.box.right, Look(size=FINE, margin=12))]

    def chosen(self, key: str) -> Transition | None:
        around, office = self.around, self.office
        match key:
            case "back":
                return Back()
            case "report":
                self.trouble = self.theme.words("desk.card.writing")
                self.soon(self._report)
                return None
            case "collect":
                return Push(CollectPage(around, office))
            case "review":
                return Push(ReviewPage(around, office, self.code))
            case "visits":
                return Push(VisitsPage(around, office, self.code))
            case "from-template":
                return Push(NewPatientPage(around, office, self.code))
        try:
            draft = office.clinic.draft_from_last(self.code, office.today)
        except (PrescriptionError, TrustError) as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None
        if key == "bench" and draft.prescription is not None:
            return Push(SourcePage(around, office, draft.prescription, office.forget))
        model = FormModel(draft, described_in(office.clinic.root / "sensors"))
        with suppress(TrustError):  # a book that cannot be read says so on the list
            entries = office.clinic.visits.entries(self.code)
            if tested_since_signed(entries):
                model.fill(entries)
        return Push(FormPage(around, office, model))

    def _report(self) -> Transition | None:
        try:
            path = self.office.clinic.write_report(self.code, self.office.clock())
        except (HandoverError, PrescriptionError, TrustError) as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None
        opened = self.office.show(path) is not False
        self.trouble = self.theme.words("desk.card.written" if opened else "desk.card.lies", file=path.name)
        return None


def _muscle(words: Words, maximum: Maximum) -> str:
    """Name and side in the reader's language."""
    name, _, side = maximum.muscle.rpartition(", ")
    return f"{name}, {words(f'desk.value.side.{side}')}" if side in ("left", "right") else maximum.muscle


def _strength(best: Maximum) -> Drawing:
    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        charts.strength(canvas, theme, box, best.days, best.track_uv, best.low_uv, best.high_uv)

    return draw


def _weeks(kept: list[float | None]) -> Drawing:
    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        charts.weeks(canvas, theme, box, kept)

    return draw
