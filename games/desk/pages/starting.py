"""Where an order begins: the patient's code, and a template."""

from __future__ import annotations

from collections.abc import Hashable
from functools import cache

from musclewood.games.desk.base.entry import CODE, Entry, code_of
from musclewood.games.desk.base.entry_page import EntryPage
from musclewood.games.desk.base.figures import figure, sites_of
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.pieces import FINE, Tool, foot, picture, sheet, words_at
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.form.page import FormPage
from musclewood.games.home.own_sensors import described_in
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Replace, Surroundings, Transition
from musclewood.profiles.clinic_code import clinic_code_problem
from musclewood.profiles.errors import PrescriptionError, TrustError
from musclewood.profiles.orders.daily_dose import daily_dose
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template, template_names

CARD_W, CARD_H, CARD_GAP, ROW_GAP = 396.0, 170.0, 22.0, 12.0
FIGURE_W = 52.0


class NewPatientPage(EntryPage):
    """A code to type, and the templates to begin from. With `patient` given, only the template is asked."""

    def __init__(self, around: Surroundings, office: Office, patient: str = "") -> None:
        super().__init__(around)
        self.office, self.patient = office, patient
        self.trouble = ""
        if not patient:
            self.entries = {"code": Entry(CODE, 9)}
            self.focus = "code"

    @property
    def code(self) -> str:
        return self.patient or code_of(self.entries["code"].text)

    def more_state(self) -> Hashable:
        return (self.trouble, self.code)

    def edited(self) -> None:
        self.trouble = ""

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.start.for", code=self.patient) if self.patient else words("desk.start.title")
        head = sentence(canvas, theme, title, (24, 22), 900, Look(size=LARGE, bold=True, margin=18))
        top = head.box.bottom + 34
        widgets: list[Widget] = [head]
        if self.entries:
            line = self.lined(canvas, "code", words("desk.start.code"), 64, top, 300)
            hint = words_at(
                canvas, theme, self.trouble or words("desk.start.code-hint"), (400, line.box.top + 2), 820, size=FINE
            )
            paper = sheet(Box(24, head.box.bottom + 14, 1232, bottom_of([line, hint]) - head.box.bottom + 4))
            widgets += [paper, line, hint]
            top = paper.box.bottom + 20
        elif self.trouble:
            at = (head.box.right + 20, 28.0)
            look = Look(size=FINE, margin=14)
            widgets.append(sentence(canvas, theme, self.trouble, at, 1236 - head.box.right, look))
        names = template_names()
        room = 632.0 - top
        rows = -(-len(names) // 3)
        height = min(CARD_H + 50, (room - (rows - 1) * ROW_GAP) / rows)
        for number, name in enumerate(names):
            row, column = divmod(number, 3)
            at = (24 + column * (CARD_W + CARD_GAP), top + row * (height + ROW_GAP))
            widgets.append(_card(canvas, theme, name, Box(at[0], at[1], CARD_W, height)))
        back = Tool("back", words("common.back"), icons.leaf_turn)
        return [*widgets, *foot(canvas, theme, [back])]

    def acted(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        words = self.theme.words
        if problem := clinic_code_problem(self.code):
            self.trouble = words("desk.start.year" if "birth date" in problem else "desk.start.no-code")
            self.focus = "code"
            return None
        if not self.patient and any(one.patient == self.code for one in self.office.patients()):
            self.trouble = words("desk.start.known", code=self.code)
            self.focus = "code"
            return None
        try:
            draft = self.office.clinic.draft_from_template(key.removeprefix("template:"), self.code, self.office.today)
        except (PrescriptionError, TrustError) as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None
        model = FormModel(draft, described_in(self.office.clinic.root / "sensors"))
        return Replace(FormPage(self.around, self.office, model))

    def handle(self, intent: Intent) -> Transition | None:
        if intent.act is Act.DOWN and self.typing:
            self._step(1)
            return None
        return super().handle(intent)


@cache
def _known(name: str) -> Prescription:
    """A template, read once: a card is laid out at every letter that is typed."""
    return template(name)


def _card(canvas: Canvas, theme: Theme, name: str, box: Box) -> Widget:
    """A template: what it is for, what it trains, how long a day of it takes."""
    words, order = theme.words, _known(name)
    body = figure(sites_of([(muscle.name, muscle.side) for muscle in order.muscles]))
    room = box.width - 44 - FIGURE_W
    kinds = ", ".join(dict.fromkeys(words(f"desk.kind.{one.kind}") for one in order.exercises))
    _, minutes = daily_dose(order)
    told = words("desk.start.dose", minutes=round(minutes), kinds=kinds)
    size, title, small = _fitting(canvas, theme, words(f"desk.template.{name}"), told, room, box.height - 26)

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        lay_slip(canvas, box, "slip", theme.slip, outlined=theme.settings.high_contrast)
        theme.letters.write(canvas, title, (box.left + 24, box.top + 10), size, theme.ink, bold=True)
        low = box.top + 14 + len(title) * theme.letters.line_height(size)
        theme.letters.write(canvas, small, (box.left + 24, low), FINE, theme.ink)
        body(canvas, theme, Box(box.right - FIGURE_W - 14, box.top + 12, FIGURE_W, box.height - 26))

    return picture(box, draw, f"template:{name}")


def _fitting(
    canvas: Canvas, theme: Theme, title: str, told: str, room: float, height: float
) -> tuple[float, list[str], list[str]]:
    """Size and lines of the title, and the lines below it: in smaller letters, then the minutes alone, where a card is
    low."""
    letters = theme.letters
    small = letters.wrap(canvas, told, FINE, room)
    for size in (SMALL, FINE):
        lines = letters.wrap(canvas, title, size, room, bold=True)
        high = len(lines) * letters.line_height(size) + len(small) * letters.line_height(FINE)
        if len(lines) <= 2 and high <= height:
            return size, lines, small
    minutes = [told.partition(":")[0]] if (len(lines) + 1) * letters.line_height(FINE) <= height else []
    return FINE, lines, minutes
