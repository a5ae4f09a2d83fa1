"""What the clinic wrote down about a patient, the latest first; a pause with dates, a discharge, and back again."""

from __future__ import annotations

from collections.abc import Hashable
from datetime import timedelta

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, sheet, tag, words_at
from musclewood.games.desk.pages.visits_told import WHY, against_before, discharge_of, in_words
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Surroundings, Transition
from musclewood.profiles.errors import TrustError
from musclewood.profiles.visits.entries import Away, Content, Entry, Return
from musclewood.profiles.visits.standing import standing_of

LOG, DEEDS = Box(24, 92, 744, 536), Box(790, 92, 466, 536)
MOST_WEEKS = 12


class VisitsPage(DeskPage):
    """The book on the left, what can be written into it on the right. Nothing in it is ever changed."""

    def __init__(self, around: Surroundings, office: Office, code: str) -> None:
        super().__init__(around)
        self.office, self.code = office, code
        self.trouble = ""
        self.weeks, self.why = 2, 0
        self.asked = False  # whether the discharge was pressed once
        self.first = 0
        self.entries: tuple[Entry, ...] = ()
        self._read()

    def _read(self) -> None:
        try:
            self.entries = self.office.clinic.visits.entries(self.code)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)

    @property
    def discharged(self) -> bool:
        return standing_of(entry.content for entry in self.entries).discharge is not None

    def state(self) -> Hashable:
        return (self.trouble, len(self.entries), self.weeks, self.why, self.asked, self.first)

    # -- what is shown

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.visits.title", code=self.code)
        head = sentence(canvas, theme, title, (24, 20), 600, Look(size=SMALL, bold=True, margin=14))
        said = self.trouble or words("desk.visits.hint")
        wide = 1238 - head.box.right
        line = sentence(canvas, theme, said, (head.box.right + 18, 20), wide, Look(size=FINE, margin=14))
        tools = foot(canvas, theme, [Tool("back", words("common.back"), icons.leaf_turn)])
        return [head, line, sheet(LOG), sheet(DEEDS), *self._log(canvas), *self._deeds(canvas), *tools]

    def _log(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        lines = [in_words(words, entry) for entry in reversed(self.entries)] or [words("desk.visits.nothing")]
        top, placed = LOG.top + 16, []
        for text in lines[self.first :]:
            made = words_at(canvas, theme, text, (LOG.left + 22, top), LOG.width - 44, size=DENSE)
            if made.box.bottom > LOG.bottom - 12:
                break
            placed.append(made)
            top = made.box.bottom + 10
        return placed

    def _deeds(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        left, width, top = DEEDS.left + 20, DEEDS.width - 40, DEEDS.top + 16
        placed: list[Widget] = []
        for number, text in enumerate(against_before(words, self.entries)):
            placed.append(words_at(canvas, theme, text, (left, top), width, size=FINE, bold=number == 0))
            top = placed[-1].box.bottom + 8
        until = self.office.today + timedelta(weeks=self.weeks)
        tags = [("weeks", words("desk.visits.weeks", weeks=self.weeks), icons.arrow)]
        tags.append(("away", words("desk.visits.write-away", last=until.isoformat()), marks.pen))
        if self.discharged:
            tags.append(("return", words("desk.visits.return"), icons.arrow))
        else:
            tags.append(("why", words(f"desk.visits.why-{self.why}"), icons.arrow))
            key = "discharge-sure" if self.asked else "discharge"
            tags.append(("discharge", words(f"desk.visits.{key}"), marks.pen))
        top += 8
        for key, text, icon in tags:
            made = tag(canvas, theme, key, text, icon, size=DENSE, width=width)
            placed.append(made.moved(left, top))
            top += made.box.height + 14
        return placed

    def scroll(self, rows: int) -> None:
        self.first = max(0, min(self.first - rows, len(self.entries) - 1))

    # -- what is chosen

    def chosen(self, key: str) -> Transition | None:
        asked, self.asked = self.asked, False
        today = self.office.today
        match key:
            case "back":
                return Back()
            case "weeks":
                self.weeks = self.weeks % MOST_WEEKS + 1
            case "why":
                self.why = (self.why + 1) % len(WHY)
            case "away":
                self._write(Away(first=today, last=today + timedelta(weeks=self.weeks)))
            case "return":
                self._write(Return(on=today))
            case "discharge" if not asked:
                self.asked = True  # whoever is discharged leaves the daily list: once more, on purpose
            case "discharge":
                row = next((one for one in self.office.patients() if one.patient == self.code), None)
                if row is not None:
                    self._write(discharge_of(row, today, WHY[self.why]))
        return None

    def _write(self, content: Content) -> None:
        clinic = self.office.clinic
        try:
            clinic.visits.add(self.code, content, self.office.clock(), clinic.settings.initials)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return
        self.trouble = self.theme.words("desk.visits.written")
        self.office.forget()
        self._read()
