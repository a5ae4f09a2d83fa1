"""After the signature, with the patient's computer in the room: how the order gets there, the clinic's words compared,
and that computer's own words taken down, so that nothing is asked when its first hand-over comes."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from pathlib import Path
from typing import Literal

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.entry import PASSPHRASE, Entry
from musclewood.games.desk.base.entry_page import EntryPage
from musclewood.games.desk.base.keymaking import word_grid
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.pieces import DENSE, Tool, foot, sheet, tag, words_at
from musclewood.games.home.places import MEDIA, sticks
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Home, Surroundings, Transition
from musclewood.profiles.clinic.clinic import Issued
from musclewood.profiles.clinic.expected import WORDS, read_words
from musclewood.profiles.errors import TrustError

Step = Literal["way", "compare", "theirs", "done"]
LEFT, WIDE = 64.0, 1150.0
MOST_STICKS = 3


class PairingPage(EntryPage):
    """Led in three steps; each can be left, and what is left out is asked when the first hand-over comes."""

    purpose = "take"

    def __init__(self, around: Surroundings, office: Office, issued: Issued, media: Sequence[str] = MEDIA) -> None:
        super().__init__(around)
        self.office, self.issued, self._media = office, issued, media
        self.step: Step = "way"
        self.trouble = ""
        self._file = issued.path.name
        self._sticks: list[Path] = []
        self.offer(sticks(media))

    def more_state(self) -> Hashable:
        return (self.step, self.trouble, tuple(self._sticks))

    def turned(self) -> Hashable:
        return self.step

    @property
    def code(self) -> str:
        return self.issued.prescription.patient

    # -- laid out

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.pair.title", code=self.code)
        head = sentence(canvas, theme, title, (24, 22), 1200, Look(size=LARGE, bold=True, margin=18))
        top = head.box.bottom + 34
        placed = [words_at(canvas, theme, self._told(), (LEFT, top), WIDE, size=SMALL, bold=self.step == "done")]
        if self.step == "compare":
            placed += word_grid(canvas, theme, self.office.clinic.words(), bottom_of(placed) + 10)
        elif self.step == "theirs":
            placed.append(self.lined(canvas, "words", words("desk.pair.words"), LEFT, bottom_of(placed) + 20, WIDE))
        if note := self._note():
            bold = bool(self.trouble)
            placed.append(words_at(canvas, theme, note, (LEFT, bottom_of(placed) + 16), WIDE, size=DENSE, bold=bold))
        if self.step == "way":
            placed += self._ways(canvas, bottom_of(placed) + 20)
        paper = sheet(Box(24, head.box.bottom + 12, 1232, bottom_of(placed) - head.box.bottom + 10))
        return [head, paper, *placed, *self._foot(canvas)]

    def _told(self) -> str:
        words = self.theme.words
        if self.step == "compare":
            where = {"letters": words("letters.title"), "pick": words("letters.pick"), "file": self._file}
            return words("desk.pair.compare", **where)
        if self.step == "theirs":
            return words("desk.pair.theirs", same=words("letters.same"))
        return words(f"desk.pair.{self.step}")

    def _note(self) -> str:
        if self.trouble or self.step == "compare":
            return self.trouble
        if self.step == "way":
            return self.theme.words("desk.pair.way-hint")
        return self.theme.words("desk.pair.later-hint") if self.step == "theirs" else ""

    def _ways(self, canvas: Canvas, top: float) -> list[Widget]:
        words, exchange = self.theme.words, self.office.clinic.settings.exchange
        ways = [
            (f"stick:{number}", words("desk.pair.stick", name=stick.name or str(stick)))
            for number, stick in enumerate(self._sticks)
        ]
        if self.issued.delivered and exchange:
            ways.append(("folder", words("desk.pair.folder", place=exchange)))
        ways.append(("again", words("desk.pair.again")))
        placed: list[Widget] = []
        for key, text in ways:
            made = tag(canvas, self.theme, key, text, width=WIDE)
            placed.append(made.moved(LEFT, top))
            top = placed[-1].box.bottom + 10
        return placed

    def _foot(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        back = Tool("back", words("common.back"), icons.leaf_turn)
        if self.step == "done":
            return foot(canvas, self.theme, [Tool("done", words("desk.issued.done"), icons.arrow, first=True)])
        if self.step == "compare":
            answers = [Tool("yes", words("desk.pair.yes"), marks.tick), Tool("no", words("desk.pair.no"), marks.cross)]
            return foot(canvas, self.theme, [back, *answers])
        later = [Tool("done", words("desk.pair.later"), icons.arrow)]
        if self.step == "theirs":
            later.append(Tool("take", words("desk.pair.take"), marks.seal, first=True))
        return foot(canvas, self.theme, [back, *later])

    # -- done

    def edited(self) -> None:
        self.trouble = ""

    def acted(self, key: str) -> Transition | None:
        head, _, rest = key.partition(":")
        if head == "stick":
            self._carry(self._sticks[int(rest)])
        elif head == "folder":
            self.turn_to("compare")
        elif head == "again":
            self.offer(sticks(self._media))
            self.trouble = "" if self._sticks else self.theme.words("desk.pair.none")
        elif head == "yes":
            self.turn_to("theirs")
        elif head == "no":
            self.turn_to("way")
            self.trouble = self.theme.words("desk.pair.wrong", no=self.theme.words("letters.not-same"))
        elif head == "take":
            self._take()
        elif head == "done":
            return Home()
        else:
            return self.back()
        return None

    def back(self) -> Transition | None:
        before: dict[Step, Step] = {"compare": "way", "theirs": "compare"}
        if self.step == "done":
            return Home()
        if self.step == "way":
            return Back()
        self.turn_to(before[self.step])
        return None

    def offer(self, found: Sequence[Path]) -> None:
        """These sticks are plugged in."""
        self._sticks = list(found)[:MOST_STICKS]

    def turn_to(self, step: Step) -> None:
        """On to a step. Nobody should say that words are the same by pressing Enter once too often."""
        self.step, self.trouble = step, ""
        self.entries = {"words": Entry(PASSPHRASE, 200)} if step == "theirs" else {}
        self.eager = step != "compare"
        self.focus = "words" if step == "theirs" else ""

    def _carry(self, stick: Path) -> None:
        clinic = self.office.clinic
        try:
            first = not clinic.settings.exchange
            letter = clinic.carry(self.issued, stick)
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return
        self._file = letter.name
        self.turn_to("compare")
        if first:
            self.trouble = self.theme.words("desk.pair.kept-there")
            self.office.forget()

    def _take(self) -> None:
        """Take the words of that computer down, once all of them stand there."""
        words = self.theme.words
        found, unknown = read_words(self.entries["words"].text)
        if unknown:
            self.trouble = words("desk.pair.unknown", word=unknown)
        elif len(found) != WORDS:
            self.trouble = words("desk.pair.count", of=WORDS, count=len(found))
        else:
            try:
                self.office.clinic.expected.add(self.code, found)
            except TrustError as error:
                self.trouble = as_sentence(words, error)
            else:
                self.turn_to("done")
