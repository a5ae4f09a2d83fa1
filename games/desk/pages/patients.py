"""The list of patients by code: who needs attention first, in words and with a shape."""

from __future__ import annotations

from collections.abc import Hashable

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.editing import write_line
from musclewood.games.desk.base.entry import CODE, Edit, Entry, code_of
from musclewood.games.desk.base.keymaking import KeyPage
from musclewood.games.desk.base.notes import NotePage
from musclewood.games.desk.base.office import Office, ago, as_sentence, told
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, TARGET, Tool, foot, inset, one_line, picture, words_at
from musclewood.games.desk.base.scrolling import first_shown
from musclewood.games.desk.pages.collecting import CollectPage
from musclewood.games.desk.pages.first_day import first_day
from musclewood.games.desk.pages.patient import PatientPage
from musclewood.games.desk.pages.settings import DeskSettingsPage
from musclewood.games.desk.pages.starting import NewPatientPage
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.palette import palette
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Leave, Push, Surroundings, Transition
from musclewood.profiles.caseload.attention import PatientSummary
from musclewood.profiles.errors import TrustError

LEFT, RIGHT, TOP, BOTTOM = 24.0, 1256.0, 128.0, 640.0
GAP = 4.0
TOOLS = ("new", "collect", "settings", "leave")
# where the columns begin
CODE_X, HANDOVER_X, KEPT_X, MVC_X, INTERVAL_X, FIRST_X = 84.0, 226.0, 386.0, 540.0, 634.0, 762.0


class PatientsPage(DeskPage):
    """Rows of paper, the most urgent on top. Letters that are typed anywhere look for a code."""

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around)
        self.office = office
        self.search = Entry(CODE, 9)
        self.trouble = ""
        self._first = 0

    # -- who is listed

    def found(self) -> list[PatientSummary]:
        """Patients whose code has the typed letters in it."""
        wanted = code_of(self.search.text)
        return [
            one for one in self.office.patients() if wanted in one.patient or wanted in one.patient.replace("-", "")
        ]

    def state(self) -> Hashable:
        listed = tuple(one.patient for one in self.found())
        return (self.office.version, self.office.clinic.has_key, self.busy, self.search.text, self._first, listed)

    def update(self, dt_s: float) -> Transition | None:
        if self.office.stale and not self.busy:
            self.soon(self._look)
        return super().update(dt_s)

    def _look(self) -> Transition | None:
        self.trouble = self.office.look(self.theme.words)
        if self.office.issued in [one.patient for one in self.office.patients()]:
            self.search.clear()
            self._look_at([one.patient for one in self.found()].index(self.office.issued))
            self.office.issued = ""
        elif self.found() and self.focus in ("", "new"):
            self._look_at(0)
        return None

    @property
    def typing(self) -> bool:
        return bool(self.office.patients())

    def type(self, letters: str) -> Transition | None:
        if letters != " " and self.typing and self.search.type(letters):
            self.edited()
        return None

    @property
    def line(self) -> Entry | None:
        """Arrows move along what was typed, unless they lead from tool to tool."""
        return self.search if self.search.text and self.focus not in TOOLS else None

    def begun(self, edit: Edit) -> Entry | None:
        return self.search if self.typing else None

    def edited(self) -> None:
        self._first = 0

    # -- moving through them

    def row_height(self) -> float:
        return max(TARGET, 2 * self.theme.letters.line_height(FINE) + 2)

    def rows_shown(self) -> int:
        return int((BOTTOM - TOP + GAP) // (self.row_height() + GAP))

    def scroll(self, rows: int) -> None:
        heights = [self.row_height() + GAP] * len(self.found())
        self._first = first_shown(heights, BOTTOM - TOP + GAP, self._first - rows, None)

    def leap(self, pages: int) -> None:
        listed = [one.patient for one in self.found()]
        if not listed:
            return
        here = listed.index(self.focus) if self.focus in listed else self._first
        self._look_at(min(max(0, here + pages * self.rows_shown()), len(listed) - 1))

    def _look_at(self, number: int) -> None:
        listed = self.found()
        heights = [self.row_height() + GAP] * len(listed)
        self._first = first_shown(heights, BOTTOM - TOP + GAP, self._first, number)
        self.focus = listed[number].patient

    def handle(self, intent: Intent) -> Transition | None:
        """Up and down go on through the list beyond what is seen."""
        listed = [one.patient for one in self.found()]
        if intent.act in (Act.UP, Act.DOWN) and self.focus in listed:
            number = listed.index(self.focus) + (1 if intent.act is Act.DOWN else -1)
            if 0 <= number < len(listed):
                self._look_at(number)
                return None
        return super().handle(intent)

    # -- drawing

    def build(self, canvas: Canvas) -> list[Widget]:
        everybody = self.office.patients()
        listed = self.found()
        rows = [
            _Row(self, canvas, one, TOP + number * (self.row_height() + GAP)).widget()
            for number, one in enumerate(listed[self._first : self._first + self.rows_shown()])
        ]
        body = [*self._heads(canvas), *rows] if listed else self._nobody(canvas, bool(everybody))
        return [*self._top(canvas, len(everybody)), *body, *self._bottom(canvas, len(listed))]

    def _top(self, canvas: Canvas, count: int) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = sentence(
            canvas, theme, words("desk.list.title"), (LEFT, 22), 560, Look(size=LARGE, bold=True, margin=18)
        )
        if not count:
            return [title]
        left = title.box.right + 24
        label = words("desk.list.search")
        wide = theme.letters.measure(canvas, [label], DENSE)[0]
        box = Box(left, 24, wide + 250, 56)

        def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
            lay_slip(canvas, box, "slip", theme.slip, outlined=theme.settings.high_contrast)
            middle = box.top + box.height / 2
            theme.letters.write(canvas, label, (box.left + 18, middle), DENSE, theme.ink, anchor="midleft")
            place = Box(box.left + wide + 34, box.top + 8, 196, box.height - 16)
            inset(canvas, theme, place, active=bool(self.search.text))
            seen = self.search.seen
            write_line(canvas, theme, seen._replace(text=seen.text.upper()), place, SMALL, bold=True)

        return [title, picture(box, draw), *self._range(canvas, box.right + 20)]

    def _range(self, canvas: Canvas, left: float) -> list[Widget]:
        """Which rows of how many are seen."""
        count, shown = len(self.found()), self.rows_shown()
        if count <= shown:
            return []
        last = min(count, self._first + shown)
        text = self.theme.words("desk.list.range", first=self._first + 1, last=last, count=count)
        return [sentence(canvas, self.theme, text, (left, 30), 380, Look(size=FINE, margin=14))]

    def _heads(self, canvas: Canvas) -> list[Widget]:
        columns = (
            ("code", CODE_X, 140.0),
            ("handover", HANDOVER_X, 158.0),
            ("kept", KEPT_X, 158.0),
            ("mvc", MVC_X, FIRST_X - MVC_X - 8),
            ("first", FIRST_X, RIGHT - FIRST_X - 20),
        )
        theme, words = self.theme, self.theme.words
        high = theme.letters.line_height(FINE) + 8
        strip = Widget(Box(LEFT, TOP - high - 8, RIGHT - LEFT, high), look=Look(shape="panel"))
        texts = [
            words_at(canvas, theme, words(f"desk.list.{key}"), (left, strip.box.top + 4), width, size=FINE, bold=True)
            for key, left, width in columns
        ]
        return [strip, *texts]

    def _nobody(self, canvas: Canvas, some: bool) -> list[Widget]:
        """Nobody has this code, or there is nobody yet."""
        if self.busy or self.trouble:
            told = self.trouble or self.theme.words("desk.list.looking")
            return [sentence(canvas, self.theme, told, (LEFT + 40, TOP + 60), 1100, Look(size=BODY, margin=26))]
        if not some:
            return first_day(canvas, self.theme, self.office.clinic.has_key)
        text = self.theme.words("desk.list.not-found", code=self.search.text.upper())
        return [sentence(canvas, self.theme, text, (LEFT + 40, TOP + 60), 900, Look(size=BODY, margin=26))]

    def _bottom(self, canvas: Canvas, count: int) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        if self.office.clinic.has_key:
            first = Tool("new", words("desk.list.new"), marks.pen, first=not count)
        else:
            first = Tool("new", words("desk.first.key"), marks.seal, first=True)
        tags = [
            first,
            Tool("collect", words("desk.list.collect"), marks.tray),
            Tool("settings", words("today.settings"), icons.sliders),
            Tool("leave", words("today.leave"), icons.door),
        ]
        return foot(canvas, theme, tags)

    # -- choosing

    def chosen(self, key: str) -> Transition | None:
        around, office = self.around, self.office
        if key == "leave":
            return Leave()
        try:
            if key == "settings":
                return Push(DeskSettingsPage(around, office))
            if key in ("new", "collect") and not office.clinic.has_key:
                return Push(KeyPage(around, office))
            if key == "new":
                return Push(NewPatientPage(around, office))
            if key == "collect":
                return Push(CollectPage(around, office))
        except TrustError as error:  # a settings file that cannot be read
            return Push(NotePage(around, as_sentence(self.theme.words, error)))
        return Push(PatientPage(around, office, key))

    def back(self) -> Transition | None:
        if self.search.text:
            self.search.clear()
        else:
            self.focus = "leave"
        return None


class _Row:
    """One patient in one line of the list."""

    def __init__(self, page: PatientsPage, canvas: Canvas, one: PatientSummary, top: float) -> None:
        self.page, self.canvas, self.one, self.top = page, canvas, one, top
        self.theme, self.words = page.theme, page.theme.words

    def widget(self) -> Widget:
        """Everything is measured here, once; drawing only pastes."""
        one, words, office = self.one, self.words, self.page.office
        height = self.page.row_height()
        handover = ago(words, one.last_handover, office.today)
        kept = words("desk.list.percent", value=round(one.adherence_pct)) if one.adherence_pct is not None else "–"
        share = (one.adherence_pct or 0.0) / 100
        best = one.maxima[0] if one.maxima else None
        uv = f"{best.estimate_uv:.0f} µV" if best else "–"
        interval = f"{best.low_uv:.0f} – {best.high_uv:.0f}" if best else ""
        first = one.attention[0] if one.attention else None
        quiet = "desk.list.well" if one.last_handover else "desk.list.waiting"
        text = told(words, first) if first else words(quiet)
        sign = marks.urgency(first.urgency if first else None)
        size, lines = self._reason(text, bold=first is not None)

        def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
            chosen = self.page.focus == one.patient
            colour = theme.lamp if chosen else theme.slip
            lay_slip(canvas, box, "slip", colour, outlined=theme.settings.high_contrast)
            middle, write = box.top + box.height / 2, theme.letters.write
            side = 32.0
            sign(canvas, theme, Box(LEFT + 14, middle - side / 2, side, side))
            write(canvas, one.patient, (CODE_X, middle), SMALL, theme.ink, bold=True, anchor="midleft")
            write(canvas, handover, (HANDOVER_X, middle), DENSE, theme.ink, anchor="midleft")
            if one.adherence_pct is None:
                write(canvas, kept, (KEPT_X, middle), DENSE, theme.ink, anchor="midleft")
            else:
                write(canvas, kept, (KEPT_X, middle - 8), DENSE, theme.ink, anchor="midleft")
                _share(canvas, theme, Box(KEPT_X, box.bottom - 16, 116, 10), share)
            write(canvas, uv, (MVC_X, middle), DENSE, theme.ink, anchor="midleft")
            write(canvas, interval, (INTERVAL_X, middle), FINE, theme.ink, anchor="midleft")
            write(canvas, lines, (FIRST_X, middle), size, theme.ink, bold=first is not None, anchor="midleft")

        return picture(Box(LEFT, self.top, RIGHT - LEFT, height), draw, one.patient)

    def _reason(self, text: str, *, bold: bool) -> tuple[float, list[str]]:
        """On one line; where that is too narrow, on two in smaller letters."""
        letters, room = self.theme.letters, RIGHT - FIRST_X - 24
        if letters.measure(self.canvas, [text], DENSE, bold=bold)[0] <= room:
            return DENSE, [text]
        lines = letters.wrap(self.canvas, text, FINE, room, bold=bold)
        if len(lines) > 2:
            lines = [lines[0], one_line(self.canvas, self.theme, " ".join(lines[1:]), room, FINE, bold=bold)]
        return FINE, lines


def _share(canvas: Canvas, theme: Theme, box: Box, share: float) -> None:
    """How much of the order was done, as the filled part of a bar."""
    canvas.surface.fill(theme.ink, canvas.area(box))
    inner = box.grown(-2)
    canvas.surface.fill(theme.slip, canvas.area(inner))
    filled = inner._replace(width=inner.width * min(max(share, 0.0), 1.0))
    if filled.width >= 1:
        canvas.surface.fill(palette().accent["blue"], canvas.area(filled))
