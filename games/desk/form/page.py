"""The order in the making: leaves on the left, the fields of one leaf on the right, what a day will ask on top."""

from __future__ import annotations

from collections.abc import Hashable

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.entry import VALUE, Edit, Entry
from musclewood.games.desk.base.notes import NotePage
from musclewood.games.desk.base.office import Office
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, Tool, foot, picture, sheet, short
from musclewood.games.desk.base.scrolling import count_shown, first_shown
from musclewood.games.desk.bench.sources import SourcePage
from musclewood.games.desk.form.cells import Typing, caret_at, press
from musclewood.games.desk.form.model import MOST_EXERCISES, FormModel, Section
from musclewood.games.desk.form.picking import KindPage, MusclePage
from musclewood.games.desk.form.rows import FormRows
from musclewood.games.desk.form.signing import SignPage
from musclewood.games.desk.form.tryout import try_out
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Page, Push, Surroundings, Transition
from musclewood.profiles.errors import TrustError
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.orders.unmeasured import measured_besides, unmeasured
from musclewood.profiles.visits.entries import Entry as VisitEntry

PAPER = Box(276, 100, 980, 528)
TABS = Box(24, 100, 252, 528)
TAB_GAP = 6.0


class FormPage(DeskPage):
    """Left and right step a field, up and down go on, letters type into it, Enter begins and ends typing."""

    def __init__(self, around: Surroundings, office: Office, model: FormModel) -> None:
        super().__init__(around)
        self.office, self.model = office, model
        self.section = "order"
        self.first_row = 0
        self.first_tab = 0
        self._entry: Entry | None = None
        self._before = model.draft
        self._asked_to_leave = False
        self._filled_as: Draft | None = None  # the order as the bench has just filled it
        self._leaf: FormRows | None = None

    # -- what is shown

    @property
    def leaf(self) -> Section:
        """The section that lies open; the first when it is gone."""
        sections = self.model.sections()
        return next((one for one in sections if one.key == self.section), sections[0])

    @property
    def typed(self) -> Typing | None:
        return Typing(self.focus, self._entry.seen) if self._entry else None

    def state(self) -> Hashable:
        unseen = "" if self.focus in [one.key for one in self.choices()] else self.focus
        scrolled = (self.section, self.first_row, self.first_tab, unseen)
        return (
            id(self.model.draft),
            self.focus in self.model.filled and self.focus,
            tuple(self.model.filled),
            self._filled_as is self.model.draft,
            scrolled,
            self.typed,
            self._asked_to_leave,
        )

    def build(self, canvas: Canvas) -> list[Widget]:
        self._leaf = FormRows(canvas, self.theme, self.model, self.leaf, PAPER, self.typed)
        self.first_row = self._leaf.first_for(self.focus, self.first_row)
        fields = self._leaf.shown(self.first_row)
        return [*self._top(canvas), *self._tabs(canvas), sheet(PAPER), *fields, *self._bottom(canvas)]

    def _top(self, canvas: Canvas) -> list[Widget]:
        theme, words, document = self.theme, self.theme.words, self.model.draft.document
        title = words("desk.form.title", code=self.model.patient, number=document["revision"])
        head = sentence(canvas, theme, title, (24, 22), 460, Look(size=SMALL, bold=True, margin=16))
        told, sign = self._preview()
        left = head.box.right + 22
        wide = 1256.0 - left
        lines = theme.letters.wrap(canvas, told, DENSE, wide - 74)
        height = max(head.box.height, len(lines) * theme.letters.line_height(DENSE) + 16)

        def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
            lay_slip(canvas, box, "slip", theme.slip, outlined=theme.settings.high_contrast)
            middle = box.top + box.height / 2
            sign(canvas, theme, Box(box.left + 16, middle - 15, 30, 30))
            theme.letters.write(canvas, lines, (box.left + 58, middle), DENSE, theme.ink, anchor="midleft")

        return [head, picture(Box(left, 22, wide, height), draw)]

    def _preview(self) -> tuple[str, Drawing]:
        words, preview = self.theme.words, self.model.draft.preview()
        if filled := self.model.from_test(self.focus):
            by = f", {filled.entry.by}" if filled.entry.by else ""
            test = words(f"desk.bench.test-{filled.test}")
            return words("desk.bench.filled", day=filled.entry.at.date().isoformat(), by=by, test=test), marks.ring
        if self._asked_to_leave:
            return words("desk.form.leave"), marks.warning
        if self._filled_as is self.model.draft:
            return words("desk.bench.filled-now"), marks.ring
        if preview is None:
            return words.count("desk.form.faults", len(self.model.faults())), marks.warning
        order = self.model.draft.prescription
        if self.leaf.key == "muscles" and order and (told := self._measured(order)):
            return told, marks.warning
        minutes = round(preview.minutes_a_day)
        figures = {"minutes": minutes, "reps": preview.reps_a_day, "days": preview.days_a_week}
        key = "one" if preview.sessions_a_day == 1 else "other"
        return words(f"desk.form.preview.{key}", sessions=preview.sessions_a_day, **figures), marks.leaf

    def _measured(self, order: Prescription) -> str:
        """Which muscles no session measures, and which only a sensor with a channel for them does."""
        words = self.theme.words

        def named(muscles: tuple[Muscle, ...]) -> str:
            return ", ".join(f"{one.name} ({words(f'desk.value.side.{one.side}')})" for one in muscles)

        lines = [words("desk.form.unmeasured", muscles=named(left_out))] if (left_out := unmeasured(order)) else []
        if besides := measured_besides(order):
            channels = 1 + max(one.channel for one in besides)
            lines.append(words("desk.form.besides", muscles=named(besides), channels=channels))
        return " ".join(lines)

    def _tabs(self, canvas: Canvas) -> list[Widget]:
        """As many leaves as fit, around the one that lies open; the one that adds an exercise stays in sight."""
        more = [self._tab(canvas, None)] if len(self.model.exercises) < MOST_EXERCISES else []
        room = TABS.height - sum(one.box.height + TAB_GAP for one in more) + TAB_GAP
        tabs = [self._tab(canvas, section) for section in self.model.sections()]
        heights = [one.box.height + TAB_GAP for one in tabs]
        keys = [one.key for one in tabs]
        wanted = self.focus if self.focus in keys else f"tab:{self.section}"
        at = keys.index(wanted) if wanted in keys else None
        self.first_tab = first_shown(heights, room, self.first_tab, at)
        count = count_shown(heights, room, self.first_tab)
        top, placed = TABS.top, []
        for one in [*tabs[self.first_tab : self.first_tab + count], *more]:
            placed.append(one.moved(TABS.left, top))
            top += one.box.height + TAB_GAP
        return placed

    def _tab(self, canvas: Canvas, section: Section | None) -> Widget:
        theme, words = self.theme, self.theme.words
        if section is None:
            name, faulty = words("desk.form.add-exercise"), False
        elif section.number is not None:
            name, faulty = str(self.model.exercises[section.number]["title"]), bool(self.model.faults_of(section))
        else:
            name, faulty = words(f"desk.section.{section.key}"), bool(self.model.faults_of(section))
        open_now = section is not None and section.key == self.leaf.key
        tested = section is not None and self.model.section_from_test(section)
        lines = short(canvas, theme, name, TABS.width - (84 if faulty or tested else 54), bold=open_now)
        height = max(46.0, len(lines) * theme.letters.line_height(DENSE) + 8)

        def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
            colour = theme.lamp if open_now else theme.slip
            width = box.width + 10 if open_now else box.width - 14
            lay_slip(canvas, box._replace(width=width), "slip", colour, outlined=theme.settings.high_contrast)
            middle, left = box.top + box.height / 2, box.left + 16
            if section is None:
                marks.plus(canvas, theme, Box(left - 4, middle - 12, 24, 24))
                left += 28
            if faulty:
                marks.warning(canvas, theme, Box(left - 4, middle - 12, 24, 24))
                left += 28
            elif tested:
                marks.ring(canvas, theme, Box(box.left + width - 32, middle - 10, 20, 20))
            theme.letters.write(canvas, lines, (left, middle), DENSE, theme.ink, bold=open_now, anchor="midleft")

        key = "add-exercise" if section is None else f"tab:{section.key}"
        return picture(Box(TABS.left, TABS.top, TABS.width - 8, height), draw, key)

    def _bottom(self, canvas: Canvas) -> list[Widget]:
        theme, words, leaf = self.theme, self.theme.words, self.leaf
        tags = [Tool("back", words("common.back"), icons.leaf_turn)]
        if leaf.number is not None:
            tags.append(Tool("try", words("desk.form.try"), marks.kiln_door))
            if len(self.model.exercises) > 1:
                tags.append(Tool("remove", words("desk.form.remove"), marks.cross))
        else:
            tags.append(Tool("bench", words("desk.form.bench"), marks.ring))
        if leaf.key == "muscles":
            tags.append(Tool("add-muscle", words("desk.form.add-muscle"), marks.plus))
        sign = Tool("sign", words("desk.form.sign"), marks.seal, first=True)
        return foot(canvas, theme, tags, [sign])

    def ring_room(self, widget: Widget) -> float:
        return 4.0 if "." in widget.key else 0.0

    # -- typing

    @property
    def typing(self) -> bool:
        return self.focus in self._paths()

    def _paths(self) -> list[str]:
        return [field.key_path for field in self.leaf.fields]

    def type(self, letters: str) -> Transition | None:
        if not self.typing or self.model.field(self.focus).kind in ("choice", "flag"):
            return None
        if self._entry is None:
            if letters == " ":
                return None
            self._begin("")
        assert self._entry is not None
        self._entry.type(letters)
        self.edited()
        return None

    @property
    def line(self) -> Entry | None:
        return self._entry

    def begun(self, edit: Edit) -> Entry | None:
        """The field in focus: its last letter is rubbed out, and all of it is copied or written over."""
        if not self.typing or self.model.field(self.focus).kind in ("choice", "flag"):
            return None
        self._begin(self.model.text(self.focus))
        if self._entry is not None and edit.act != "erase":
            self._entry.do(Edit("all"))
        return self._entry

    def edited(self) -> None:
        if self._entry is not None:
            self.model.set(self.focus, self._entry.text)

    def _begin(self, text: str) -> None:
        self._before = self.model.draft
        self._entry = Entry(VALUE, 60, text=text)

    def _end(self) -> None:
        self._entry = None

    # -- intents

    def handle(self, intent: Intent) -> Transition | None:
        if intent.act is Act.POINT:
            return None if self._entry else super().handle(intent)
        if intent.act is not Act.BACK:
            self._asked_to_leave = False
        if self._entry and intent.act is Act.BACK:
            self.model.draft = self._before
            self._end()
            return None
        if self._entry and intent.act is Act.CHOOSE:
            self._end()
            return None
        if intent.act is not Act.EFFORT and not self._presses_the_line(intent):
            self._end()
        if self.typing and intent.act in (Act.LEFT, Act.RIGHT):
            self.model.step(self.focus, -1 if intent.act is Act.LEFT else 1)
            return None
        if intent.act in (Act.UP, Act.DOWN) and self._beyond(intent):
            return None
        if intent.act is Act.PRESS and intent.at and (under := self._under(intent.at)) and under.key in self._paths():
            self.focus = under.key
            self._pressed(under, intent.at)
            return None
        return super().handle(intent)

    def _presses_the_line(self, intent: Intent) -> bool:
        """Whether the field that is typed into is pressed again: the caret goes there."""
        under = self._under(intent.at) if intent.act is Act.PRESS and intent.at else None
        return (
            under is not None and intent.at is not None and under.key == self.focus and not press(under.box, intent.at)
        )

    def _pressed(self, under: Widget, at: Point) -> None:
        kind, way = self.model.field(under.key).kind, press(under.box, at)
        if way or kind in ("choice", "flag"):
            self.model.step(under.key, way or 1)
            return
        if self._entry is None:
            self._begin(self.model.text(under.key))
        if self._entry is not None and self._leaf is not None:
            self._entry.put(caret_at(self._leaf.canvas, self.theme, self._entry.seen, under.box, at[0]))

    def _beyond(self, intent: Intent) -> bool:
        """Up and down go on to fields that are not in sight yet."""
        goal = self._leaf.neighbour(self.focus, 1 if intent.act is Act.DOWN else -1) if self._leaf else None
        if goal is not None:
            self.focus = goal
        return goal is not None

    def _step(self, by: int) -> None:
        """Through everything, also what is not in sight: leaves, fields, tools."""
        leaves = [f"tab:{section.key}" for section in self.model.sections()]
        fields = self._leaf.every_key() if self._leaf else []
        inner = {*leaves, *fields, "add-exercise"}
        more = ["add-exercise"] if len(self.model.exercises) < MOST_EXERCISES else []
        order = [*leaves, *more, *fields, *(one.key for one in self.choices() if one.key not in inner)]
        here = order.index(self.focus) if self.focus in order else -by
        self.focus = order[(here + by) % len(order)]

    def scroll(self, rows: int) -> None:
        if self._leaf and not self._entry:
            self.first_row = self._leaf.clamped(self.first_row - rows)
            shown = [widget.key for widget in self._leaf.shown(self.first_row) if widget.key]
            if self.focus in self._leaf.every_key() and self.focus not in shown and shown:
                self.focus = shown[0]

    def leap(self, pages: int) -> None:
        """The next leaf, or the one before."""
        keys = [section.key for section in self.model.sections()]
        self._open(keys[(keys.index(self.leaf.key) + pages) % len(keys)])

    def _open(self, key: str) -> None:
        self._end()
        self.section, self.first_row = key, 0
        self.focus = f"tab:{key}"

    def chosen(self, key: str) -> Transition | None:
        around = self.around
        head, _, rest = key.partition(":")
        if head == "tab":
            self._open(rest)
        elif head == "day":
            self.model.toggle_day(rest)
        elif head == "drop-muscle":
            self.model.remove_muscle(int(rest))
        elif key in self._paths():
            field = self.model.field(key)
            if field.kind in ("choice", "flag"):
                self.model.step(key, 1)
            else:
                self._begin(self.model.text(key))
        elif key == "remove" and self.leaf.number is not None:
            number = self.leaf.number
            self.model.remove_exercise(number)
            self._open(f"exercise:{max(0, number - 1)}")
        elif key == "add-exercise":
            return Push(KindPage(around, self.model, self._open))
        elif key == "add-muscle":
            return Push(MusclePage(around, self.model))
        elif key == "try" and self.leaf.number is not None:
            number, office = self.leaf.number, self.office
            worn = office.worn[1] if office.worn[0] == self.model.patient else ""
            return Push(try_out(around, self.model, number, office.clock, worn, self._entries()))
        elif key == "bench":
            return Push(self._bench())
        elif key == "sign":
            return Push(SignPage(around, self.office, self.model))
        elif key == "back":
            return self.back()
        return None

    def _bench(self) -> Page:
        """The bench on the muscles of this order; what was kept there fills it on the way back."""
        order = self.model.prescription
        if order is None:
            return NotePage(self.around, self.theme.words("desk.try.faults"))
        seen = self._entries()

        def left() -> None:
            if len(entries := self._entries()) > len(seen):
                self.model.fill(entries)
                self._filled_as = self.model.draft

        return SourcePage(self.around, self.office, order, left)

    def _entries(self) -> tuple[VisitEntry, ...]:
        try:
            return self.office.clinic.visits.entries(self.model.patient)
        except TrustError:
            return ()

    def back(self) -> Transition | None:
        """Asks once before an order that was worked on is left unsigned."""
        if self.model.touched and not self._asked_to_leave:
            self._asked_to_leave = True
            return None
        return Back()
