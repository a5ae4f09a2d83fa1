"""Before the signature: everything that acts on the patient, or what changes of it, read to its end; what is unusual in
it,
asked once more; then the passphrase; then where the order lies."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Literal

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.entry import PASSPHRASE, Entry
from musclewood.games.desk.base.entry_page import PassphrasePage
from musclewood.games.desk.base.keymaking import KeyPage
from musclewood.games.desk.base.leaflet import leaflet
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, picture, sheet, words_at
from musclewood.games.desk.base.scrolling import count_shown, first_shown
from musclewood.games.desk.form.cells import name_of
from musclewood.games.desk.form.changes import changes
from musclewood.games.desk.form.facts_told import concern_told, facts_told
from musclewood.games.desk.form.faults_told import told_fault
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.form.pairing import PairingPage
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Home, Push, Replace, Surroundings, Transition
from musclewood.profiles.clinic.clinic import Issued
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.errors import Fault, PassphraseError, PrescriptionError, TrustError

Shown = Literal["order", "rest", "unusual"]

TOP, LOW = 100.0, 628.0
LIST = Box(24, TOP, 740, LOW - TOP)
SIDE = Box(784, TOP, 472, LOW - TOP)


class SignPage(PassphrasePage):
    """The passphrase leaves the page with the attempt to use it, right or wrong."""

    purpose = "issue"

    def __init__(self, around: Surroundings, office: Office, model: FormModel) -> None:
        super().__init__(around)
        self.office, self.model = office, model
        self.first_row = 0
        self._rows = 1
        self.page: Shown = "order"
        self._read: dict[Shown, int] = {}  # lines that were in sight, by page
        self._lines = 0
        if office.clinic.has_key and model.prescription is not None:
            self.entries = {"passphrase": Entry(PASSPHRASE, 200, masked=True)}
            self.focus = "passphrase"

    def more_state(self) -> Hashable:
        return (self.trouble, self.first_row, id(self.model.draft), self.office.clinic.has_key, self.page)

    @property
    def first_order(self) -> bool:
        return self.model.draft.previous is None

    @property
    def all_read(self) -> bool:
        """Whether everything that must be seen before signing was in sight."""
        return self._read.get("order", 0) >= self._lines > 0

    def told(self) -> list[str]:
        """The lines of the page at hand: a first order whole, a later one by its changes, the rest on a page of its
        own."""
        words, order = self.theme.words, self.model.prescription
        if order is None:
            return [self._fault(fault) for fault in self.model.faults()]
        if self.page == "unusual":
            return [concern_told(words, one) for one in self.model.draft.concerns()]
        if self.page == "rest" or self.first_order:
            return facts_told(words, order)
        return changes(words, self.model)

    def update(self, dt_s: float) -> Transition | None:
        if not self.entries and self.office.clinic.has_key and self.model.prescription is not None:
            self.entries = {"passphrase": Entry(PASSPHRASE, 200, masked=True)}  # the key was made meanwhile
            self.focus = "passphrase"
        return super().update(dt_s)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.sign.title", code=self.model.patient, number=self.model.draft.document["revision"])
        head = sentence(canvas, theme, title, (24, 22), 900, Look(size=LARGE, bold=True, margin=18))
        return [head, sheet(LIST), *self._list(canvas), sheet(SIDE), *self._side(canvas), *self._bottom(canvas)]

    def _list(self, canvas: Canvas) -> list[Widget]:
        """What changes; or what is to be mended first."""
        theme, words = self.theme, self.theme.words
        faults = self.model.faults()
        whole = "desk.sign.whole" if self.first_order or self.page == "rest" else "desk.sign.changes"
        name = "desk.sign.faults" if faults else "desk.sign.unusual" if self.page == "unusual" else whole
        head = words_at(canvas, theme, words(name), (LIST.left + 28, TOP + 18), LIST.width - 60, size=SMALL, bold=True)
        told = self.told()
        blocks = [words_at(canvas, theme, text, (LIST.left + 62, 0.0), LIST.width - 100) for text in told]
        heights = [block.box.height + 10 for block in blocks]
        room = LIST.bottom - head.box.bottom - 22
        self.first_row = first_shown(heights, room, self.first_row, None)
        count = count_shown(heights, room, self.first_row)
        self._read[self.page] = max(self._read.get(self.page, 0), self.first_row + count)
        self._lines = len(blocks) if self.page == "order" else self._lines
        top, placed = head.box.bottom + 10, [head]
        for block in blocks[self.first_row : self.first_row + count]:
            sign = marks.warning if faults or self.page == "unusual" else marks.leaf
            placed.append(picture(Box(LIST.left + 26, top + 2, 24, 24), sign))
            placed.append(block.moved(block.box.left, top))
            top += block.box.height + 10
        if self.first_row + count < len(blocks):
            placed.append(picture(Box(LIST.right - 46, LIST.bottom - 26, 30, 20), marks.wedge(1)))
        if self.first_row:
            placed.append(picture(Box(LIST.right - 46, TOP + 6, 30, 20), marks.wedge(-1)))
        self._rows = max(1, count - 1)
        return placed

    def _fault(self, fault: Fault) -> str:
        """Where it is, and what to do."""
        if refused := self.model.draft.refused.get(fault.problem):
            return concern_told(self.theme.words, refused)
        fields = {field.key_path: field for field in self.model.fields()}
        field = fields.get(fault.key_path)
        if field is None:
            return told_fault(self.theme.words, fault, None)
        place = ""
        if fault.key_path.startswith("exercises."):
            place = f"{self.model.exercises[int(fault.key_path.split('.')[1])]['title']}: "
        return f"{place}{name_of(self.theme.words, field)}: {told_fault(self.theme.words, fault, field)}"

    def _side(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        left, width = SIDE.left + 28, SIDE.width - 56
        widgets: list[Widget] = []
        preview = self.model.draft.preview()
        if preview is not None:
            widgets.append(
                words_at(canvas, theme, words("desk.sign.day"), (left, TOP + 18), width, size=SMALL, bold=True)
            )
            for name, reps, minutes in preview.by_exercise:
                text = words("desk.sign.exercise", title=name, reps=reps, minutes=f"{minutes:.0f}")
                line = words_at(canvas, theme, text, (left, bottom_of(widgets) + 8), width, size=FINE)
                if line.box.top < TOP + 250:
                    widgets.append(line)
        else:
            widgets.append(words_at(canvas, theme, words("desk.try.faults"), (left, TOP + 18), width))
            return widgets
        if not self.entries:
            widgets.append(words_at(canvas, theme, words("desk.sign.no-key"), (left, bottom_of(widgets) + 24), width))
            return widgets
        line = self.lined(canvas, "passphrase", words("desk.sign.passphrase"), left, bottom_of(widgets) + 30, width)
        told = words("desk.key.working") if self.busy else self.trouble or words("desk.sign.hint")
        bold = bool(self.trouble) or self.busy
        note = words_at(
            canvas, theme, told, (left, line.box.bottom + 18), width, size=DENSE if bold else FINE, bold=bold
        )
        told_at_once = bold or note.box.bottom <= SIDE.bottom - 12  # what explains gives way to what is to be done
        return [*widgets, line, note] if told_at_once else [*widgets, line]

    def _bottom(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        back = Tool("back", words("common.back"), icons.leaf_turn)
        if self.model.prescription is None:
            return foot(canvas, theme, [back])
        pages = [] if self.first_order or self.page == "unusual" else [self._turn()]
        if not self.all_read:
            last = Tool("on", words("desk.sign.on"), icons.arrow, first=True)
        elif self.page == "unusual":
            last = Tool("issue", words("desk.sign.mean"), marks.seal, first=True)
        elif self.entries:
            last = Tool("issue", words("desk.sign.issue"), marks.seal, first=True)
        else:
            last = Tool("key", words("desk.sign.make-key"), marks.seal, first=True)
        return foot(canvas, theme, [back, *pages], [last])

    def _turn(self) -> Tool:
        """The way to the rest of a later order, and back to what changes."""
        key = "changed" if self.page == "rest" else "rest"
        return Tool(key, self.theme.words(f"desk.sign.{key}"), icons.leaf_turn)

    def _read_on(self, *, asked: bool) -> None:
        """Nothing is signed before its last line was in sight."""
        self.trouble = "" if asked else self.theme.words("desk.sign.read-first")
        if self.page == "order":
            self.leap(1)
        else:
            self._show("order")

    def _show(self, page: Shown) -> None:
        self.page, self.first_row = page, 0

    def scroll(self, rows: int) -> None:
        self.first_row = max(0, self.first_row - rows)

    def leap(self, pages: int) -> None:
        self.first_row = max(0, self.first_row + pages * self._rows)

    def acted(self, key: str) -> Transition | None:
        if key == "back" and self.page == "order":
            return Back()
        if key in ("back", "rest", "changed"):
            self._show("rest" if key == "rest" else "order")
            return None
        if not self.all_read:
            self._read_on(asked=key == "on")
            return None
        if key == "key":
            return self._to_the_key()
        if not self.given():
            return None
        if self.page != "unusual" and self.model.draft.concerns():
            self._show("unusual")
            return None
        self.soon(self._issue)
        return None

    def _to_the_key(self) -> Transition | None:
        try:
            return Push(KeyPage(self.around, self.office))
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None

    def _issue(self) -> Transition | None:
        clinic, entry = self.office.clinic, self.entries["passphrase"]
        passphrase = entry.text
        entry.clear()
        try:
            issued = clinic.issue(
                self.model.draft, clinic.unlock(passphrase), [one.id for one in self.model.draft.concerns()]
            )
        except PassphraseError:
            self.trouble = self.theme.words("desk.sign.wrong")
        except (PrescriptionError, TrustError) as error:
            self.trouble = as_sentence(self.theme.words, error)
        else:
            self.office.issued = issued.prescription.patient
            self.office.forget()
            return Replace(IssuedPage(self.around, self.office, issued))
        self.focus = "passphrase"
        return None


class IssuedPage(DeskPage):
    """One clear sentence: it is signed, and where it lies."""

    def __init__(self, around: Surroundings, office: Office, issued: Issued) -> None:
        super().__init__(around)
        self.office, self.issued = office, issued

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, order = self.theme, self.theme.words, self.issued.prescription
        title = words("desk.issued.title", code=order.patient, number=order.revision)
        head = sentence(canvas, theme, title, (120, 120), 1040, Look(size=LARGE, bold=True, margin=26))
        where = words("desk.issued.there" if self.issued.delivered else "desk.issued.waiting")
        slips = [head, sentence(canvas, theme, where, (150, head.box.bottom + 18), 1000, Look(size=SMALL, margin=22))]
        if self.issued.trouble:
            at = (150, bottom_of(slips) + 18)
            slips.append(
                sentence(canvas, theme, as_sentence(words, self.issued.trouble), at, 1000, Look(size=DENSE, margin=20))
            )
        first = words("desk.issued.first", words=" ".join(self.office.clinic.words()))
        at = (150, bottom_of(slips) + 18)
        slips.append(sentence(canvas, theme, first, at, 1000, Look(size=SMALL, margin=22)))
        done = Tool("done", words("desk.issued.done"), icons.arrow, first=True)
        paper = Tool("leaflet", words("desk.issued.leaflet"), marks.sheet_of_paper)
        computer = Tool("pair", words("desk.pair.open"), marks.seal)
        return [*slips, *foot(canvas, theme, [done, paper, computer])]

    def chosen(self, key: str) -> Transition | None:
        if key == "pair":
            return Push(PairingPage(self.around, self.office, self.issued))
        if key != "leaflet":
            return Home()
        clinic, order = self.office.clinic, self.issued.prescription
        path = clinic.root / "reports" / f"{order.patient}-leaflet.html"
        write_whole(path, leaflet(order, clinic.words()).encode())
        self.office.show(path)
        return None

    def back(self) -> Transition | None:
        return Home()
