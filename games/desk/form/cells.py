"""One field of the form as a cell: its name, two knobs, what stands there with its unit, its range or what is wrong."""

from __future__ import annotations

from dataclasses import dataclass

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.editing import letter_at, write_line
from musclewood.games.desk.base.entry import Seen
from musclewood.games.desk.base.pieces import DENSE, FINE, inset, knob, picture, quiet_ink
from musclewood.games.desk.form.faults_told import told_fault
from musclewood.games.desk.form.model import FormModel
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Drawing, Widget
from musclewood.games.kit.words import Words
from musclewood.profiles.orders.draft_fields import Field

CELL_W, CELL_GAP = 298.0, 24.0
WIDE_W = 2 * CELL_W + CELL_GAP
KNOB = 48.0
DOUBLE = ("title", "pattern")  # names of fields whose cell is two wide


@dataclass(frozen=True)
class Typing:
    """What is being typed into which field."""

    path: str
    seen: Seen


def name_of(words: Words, field: Field) -> str:
    """How a field is called: under its whole place where that says more, else under its own name."""
    if field.name.isdecimal():
        return words(f"desk.field.muscle-{field.name}")
    if field.group == "sensors":
        return field.name
    if ".workshops." in field.key_path:
        return words("desk.field.workshop", workshop=words(f"desk.workshop.{field.name}"))
    parts = [part for part in field.key_path.split(".") if not part.isdecimal()]
    whole = f"desk.field.{'-'.join(parts[-2:])}"
    return words(whole) if words.has(whole) else words(f"desk.field.{field.name}")


def width_of(field: Field) -> float:
    return WIDE_W if field.name in DOUBLE else CELL_W


def shown_value(model: FormModel, words: Words, field: Field) -> str:
    """What stands in the box, with its unit; choices and flags in words."""
    text = model.text(field.key_path)
    if field.kind == "flag":
        return words("desk.form.yes" if text == "on" else "desk.form.no")
    if field.kind == "choice" and (text or not field.optional):
        if field.name.isdecimal():
            return muscle_name(model, words, text)
        key = f"desk.value.{field.name}.{text}"
        return words(key) if words.has(key) else text
    if not text:
        return words("desk.form.none")
    return f"{text} {field.unit}" if field.unit else text


def muscle_name(model: FormModel, words: Words, wanted: str) -> str:
    found = next((one for one in model.muscles if one["id"] == wanted), None)
    return f"{found['name']}, {side_in_words(words, found['side'])}" if found else wanted or words("desk.form.none")


def side_in_words(words: Words, side: str | None) -> str:
    return words(f"desk.value.side.{side}") if side else words("desk.form.no-side")


def range_of(words: Words, field: Field) -> str:
    """What is allowed, in words; empty where the knobs say it all."""
    optional = words("desk.form.optional") if field.optional else ""
    if field.kind == "date":
        told = words("desk.form.date")
    elif field.kind == "numbers":
        told = words("desk.form.pattern")
    elif field.low is not None and field.high is not None:
        unit = f" {field.unit}" if field.unit else ""
        told = words("desk.form.range", low=f"{field.low:g}", high=f"{field.high:g}") + unit
    else:
        told = ""
    return ", ".join(part for part in (told, optional) if part)


def cell(canvas: Canvas, theme: Theme, model: FormModel, field: Field, at: Point, typing: Typing | None) -> Widget:
    """The widget of one field; its key is the field's path."""
    letters, words, width = theme.letters, theme.words, width_of(field)
    active = typing is not None and typing.path == field.key_path
    name = letters.wrap(canvas, name_of(words, field), DENSE, width, bold=True)
    fault = model.fault_of(field.key_path)
    below = told_fault(words, fault, field) if fault else range_of(words, field)
    if not fault and model.from_test(field.key_path):
        below = ", ".join(part for part in (words("desk.bench.from-test"), below) if part)
    note = letters.wrap(canvas, below, FINE, width - (30 if fault else 0)) if below else []
    value = typing.seen.text if active and typing else shown_value(model, words, field)
    room = width - 2 * KNOB - 32
    size = SMALL if active or letters.measure(canvas, [value], SMALL, bold=True)[0] <= room else FINE
    lines = [value] if active else letters.wrap(canvas, value, size, room, bold=True)
    high = max(KNOB, len(lines) * letters.line_height(size) + 6)
    name_h = len(name) * letters.line_height(DENSE)
    note_h = len(note) * letters.line_height(FINE)
    numbers = field.kind in ("whole", "number", "date")
    signs = (marks.minus, marks.plus) if numbers else (marks.before, marks.after)
    curve = model.value(field.key_path) if field.kind == "numbers" and not fault and not active else None

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        letters.write(canvas, name, (box.left, box.top), DENSE, theme.ink, bold=True)
        top = box.top + name_h + 2
        place = written_in(box)._replace(top=top, height=high)
        inset(canvas, theme, place, active=active)
        if curve:
            _curve(canvas, theme, place, [float(part) for part in curve])
        middle = (place.left + place.width / 2, top + high / 2)
        if active and typing:
            write_line(canvas, theme, typing.seen, place, SMALL, bold=True)
        elif curve:
            letters.write(canvas, lines, (place.left + 12, middle[1]), FINE, theme.ink, bold=True, anchor="midleft")
        else:
            letters.write(canvas, lines, middle, size, theme.ink, bold=True, anchor="center")
        lift = top + (high - KNOB) / 2
        knob(canvas, theme, Box(box.left, lift, KNOB, KNOB), signs[0])
        knob(canvas, theme, Box(box.right - KNOB, lift, KNOB, KNOB), signs[1])
        under = top + high + 2
        if fault:
            marks.warning(canvas, theme, Box(box.left, under + 2, 22, 22))
        letters.write(canvas, note, (box.left + (30 if fault else 0), under), FINE, theme.ink)

    return picture(Box(at[0], at[1], width, name_h + high + note_h + 4), draw, field.key_path)


def written_in(box: Box) -> Box:
    """The part of a cell between its knobs."""
    return box._replace(left=box.left + KNOB + 8, width=box.width - 2 * KNOB - 16)


def caret_at(canvas: Canvas, theme: Theme, seen: Seen, box: Box, x: float) -> int:
    """Before which letter of a cell that is typed into a press goes."""
    return letter_at(canvas, theme, seen, written_in(box), x, SMALL, bold=True)


def press(box: Box, at: Point) -> int:
    """What a press on a cell asks for: -1 and +1 on the knobs, 0 to type."""
    if at[0] < box.left + KNOB + 4:
        return -1
    return 1 if at[0] >= box.right - KNOB - 4 else 0


def _curve(canvas: Canvas, theme: Theme, place: Box, points: list[float]) -> None:
    """The way that the effort goes, on the right half of the box."""
    if len(points) < 2:
        return
    left, width = place.left + place.width * 0.56, place.width * 0.4
    way = [
        (left + width * number / (len(points) - 1), place.bottom - 8 - (place.height - 16) * min(max(point, 0.0), 1.0))
        for number, point in enumerate(points)
    ]
    canvas.line(quiet_ink(theme), [(left, place.bottom - 8), (left + width, place.bottom - 8)], 2)
    canvas.line(theme.ink, way, 4)


def days_cell(canvas: Canvas, theme: Theme, model: FormModel, at: Point) -> list[Widget]:
    """Seven days to tick under their name."""
    words, letters = theme.words, theme.letters
    head = letters.line_height(DENSE)
    chosen = model.draft.value("days") or ()
    fault = model.fault_of("days")
    note = told_fault(words, fault, None) if fault else ""
    under = letters.wrap(canvas, note, FINE, WIDE_W - 30) if note else []
    name = words("desk.field.days")
    wide, high = 80.0, max(KNOB, letters.line_height(DENSE) + 20)
    whole = head + high + max(1, len(under)) * letters.line_height(FINE) + 4

    def title(canvas: Canvas, theme: Theme, box: Box) -> None:
        letters.write(canvas, name, (box.left, box.top), DENSE, theme.ink, bold=True)
        if fault:
            low = box.top + head + high + 4
            marks.warning(canvas, theme, Box(box.left, low + 2, 22, 22))
            letters.write(canvas, under, (box.left + 30, low), FINE, theme.ink)

    widgets = [picture(Box(at[0], at[1], WIDE_W, whole), title)]
    for number, day in enumerate(("mon", "tue", "wed", "thu", "fri", "sat", "sun")):
        box = Box(at[0] + number * (wide + 10), at[1] + head + 2, wide, high)
        widgets.append(picture(box, _day(words(f"desk.day.{day}"), day in chosen), f"day:{day}"))
    return widgets


def _day(name: str, on: bool) -> Drawing:
    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        inset(canvas, theme, box, active=on)
        middle = box.top + box.height / 2
        if on:
            marks.tick(canvas, theme, Box(box.left + 6, middle - 12, 24, 24))
        theme.letters.write(canvas, name, (box.left + 36, middle), DENSE, theme.ink, bold=on, anchor="midleft")

    return draw
