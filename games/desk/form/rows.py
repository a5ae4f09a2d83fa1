"""One leaf of the form laid out: rows of cells under small headings, and which of them are in sight."""

from __future__ import annotations

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.pieces import DENSE, FINE, knob, picture, quiet_ink, words_at
from musclewood.games.desk.base.scrolling import first_shown
from musclewood.games.desk.form.cells import CELL_GAP, CELL_W, Typing, cell, days_cell, muscle_name, width_of
from musclewood.games.desk.form.faults_told import told_fault
from musclewood.games.desk.form.model import FormModel, Section
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Widget
from musclewood.profiles.orders.draft_fields import Field

MARGIN, ROW_GAP = 18.0, 12.0
Row = list[Widget]


class FormRows:
    """Rows at heights of their own, all laid out from 0; `shown` moves those in sight into the paper."""

    def __init__(
        self, canvas: Canvas, theme: Theme, model: FormModel, section: Section, paper: Box, typing: Typing | None
    ) -> None:
        self.canvas, self.theme, self.model, self.section, self.typing = canvas, theme, model, section, typing
        self.paper = paper
        self.room = paper.height - 2 * MARGIN + ROW_GAP
        self.rows: list[Row] = []
        self._lay_out()
        self._heights = [max(_bottom(one) for one in row) + ROW_GAP for row in self.rows]

    # -- which rows are seen

    def every_key(self) -> list[str]:
        """Everything that can be chosen, in reading order."""
        return [widget.key for row in self.rows for widget in row if widget.key]

    def row_of(self, key: str) -> int | None:
        return next((number for number, row in enumerate(self.rows) if any(one.key == key for one in row)), None)

    def first_for(self, key: str, first: int) -> int:
        """The first row to show so that `key` is in sight."""
        return first_shown(self._heights, self.room, first, self.row_of(key))

    def clamped(self, first: int) -> int:
        return first_shown(self._heights, self.room, first, None)

    def neighbour(self, key: str, way: int) -> str | None:
        """What lies nearest below (1) or above (-1) in the next row that has anything to choose."""
        number = self.row_of(key)
        if number is None:
            return None
        here = next(one for one in self.rows[number] if one.key == key).box
        number += way
        while 0 <= number < len(self.rows):
            there = [one for one in self.rows[number] if one.key]
            if there:
                middle = here.left + here.width / 2
                return min(there, key=lambda one: abs(one.box.left + one.box.width / 2 - middle)).key
            number += way
        return None

    def shown(self, first: int) -> list[Widget]:
        """The widgets in sight, in their places, and signs where there is more."""
        top, placed = self.paper.top + MARGIN, []
        used, last = 0.0, first
        for number in range(first, len(self.rows)):
            if used + self._heights[number] > self.room + 1 and number > first:
                break
            for one in self.rows[number]:
                placed.append(one.moved(one.box.left, top + one.box.top))
            top += self._heights[number]
            used += self._heights[number]
            last = number
        return [*placed, *self._more(first > 0, last < len(self.rows) - 1)]

    def _more(self, above: bool, below: bool) -> list[Widget]:
        found = []
        if above:
            found.append(picture(Box(self.paper.right - 46, self.paper.top + 4, 30, 20), marks.wedge(-1)))
        if below:
            found.append(picture(Box(self.paper.right - 46, self.paper.bottom - 26, 30, 20), marks.wedge(1)))
        return found

    # -- rows

    def _lay_out(self) -> None:
        for fault in self.model.loose_faults(self.section):
            self._words(told_fault(self.theme.words, fault, None), sign=True)
        match self.section.key:
            case "order":
                self._order()
            case "muscles":
                self._muscles()
            case _ if self.section.number is not None:
                self._exercise()
            case _:
                self._words(self.theme.words(f"desk.section.{self.section.key}-hint"))
                self._cells(list(self.section.fields))

    def _order(self) -> None:
        self._words(self.theme.words("desk.section.order-hint"))
        widgets = days_cell(self.canvas, self.theme, self.model, (self.paper.left + MARGIN, 0.0))
        rest = [field for field in self.section.fields if field.key_path != "days"]
        first = rest.pop(next(number for number, one in enumerate(rest) if one.name == "sessions_per_day"))
        left = self.paper.left + MARGIN + 2 * (CELL_W + CELL_GAP)
        self.rows.append([*widgets, cell(self.canvas, self.theme, self.model, first, (left, 0.0), self.typing)])
        self._cells([field for field in rest if field.group != "sensors"])
        self._cells([field for field in rest if field.group == "sensors"], self.theme.words("desk.form.sensors"))

    def _muscles(self) -> None:
        words = self.theme.words
        for number, muscle in enumerate(self.model.muscles):
            name = muscle_name(self.model, words, muscle["id"])
            width = self.paper.width - 2 * MARGIN - 80
            title = words_at(
                self.canvas, self.theme, name, (self.paper.left + MARGIN, 0.0), width, size=SMALL, bold=True
            )
            below = title.box.bottom
            place = words_at(
                self.canvas, self.theme, str(muscle["placement"]), (self.paper.left + MARGIN, below), width, size=FINE
            )
            row = [title, place]
            if len(self.model.muscles) > 1:
                box = Box(self.paper.right - MARGIN - 50, 2.0, 48, 48)
                row.append(picture(box, lambda c, r, b: knob(c, r, b, marks.cross), f"drop-muscle:{number}"))
            self.rows.append(row)
            self._cells([field for field in self.section.fields if field.group == f"muscle {number}"])

    def _exercise(self) -> None:
        words, number = self.theme.words, self.section.number
        assert number is not None
        exercise = self.model.exercises[number]
        played = ", ".join(words(f"desk.workshop.{one}") for one in exercise["workshops"])
        trains = words(f"desk.kind.{exercise['kind']}-hint")
        self._words(words("desk.form.kind", kind=words(f"desk.kind.{exercise['kind']}"), trains=trains, played=played))
        fields = list(self.section.fields)
        effort = [field for field in fields if ".effort." in field.key_path]
        scaling = [field for field in fields if ".scaling." in field.key_path]
        self._cells([field for field in fields if field not in effort and field not in scaling])
        self._cells(effort, words("desk.form.effort"))
        self._cells(scaling, words("desk.form.scaling"))

    def _cells(self, fields: list[Field], heading: str = "") -> None:
        """Three to a row; those that are two wide take two places. A heading stays with the row under it."""
        row: Row = self._heading(heading) if heading and fields else []
        top = max((_bottom(one) + 8 for one in row), default=0.0)
        start, limit = self.paper.left + MARGIN, self.paper.right - MARGIN + 2
        x = start
        for field in fields:
            if x > start and x + width_of(field) > limit:
                self.rows.append(row)
                row, x, top = [], start, 0.0
            row.append(cell(self.canvas, self.theme, self.model, field, (x, top), self.typing))
            x += width_of(field) + CELL_GAP
        if row:
            self.rows.append(row)

    def _heading(self, text: str) -> Row:
        width = self.paper.width - 2 * MARGIN
        block = words_at(self.canvas, self.theme, text, (self.paper.left + MARGIN, 4.0), width, size=SMALL, bold=True)
        return [block, picture(Box(self.paper.left + MARGIN, block.box.bottom, width, 4), _rule)]

    def _words(self, text: str, *, sign: bool = False) -> None:
        left = self.paper.left + MARGIN + (34 if sign else 0)
        width = self.paper.right - MARGIN - left - 30
        row = [words_at(self.canvas, self.theme, text, (left, 0.0), width, size=DENSE if sign else FINE, bold=sign)]
        if sign:
            row.append(picture(Box(self.paper.left + MARGIN, 1.0, 24, 24), marks.warning))
        self.rows.append(row)


def _bottom(widget: Widget) -> float:
    return widget.box.top + widget.box.height


def _rule(canvas: Canvas, theme: Theme, box: Box) -> None:
    canvas.line(quiet_ink(theme), [(box.left, box.top + 2), (box.right, box.top + 2)], 2)
