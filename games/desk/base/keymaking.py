"""The first day: the clinic's name, the folder that is carried, and a key with its passphrase; then the key's words."""

from __future__ import annotations

from collections.abc import Hashable
from pathlib import Path

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.entry import PASSPHRASE, Entry
from musclewood.games.desk.base.entry_page import EntryPage, PassphrasePage
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, picture, sheet, words_at
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Replace, Surroundings, Transition
from musclewood.profiles.errors import GuessablePassphraseError, PassphraseError, TrustError

PATH = r"[^\x00-\x1f\x7f]*"
LEFT, WIDE = 64.0, 700.0


class KeyPage(EntryPage):
    """Asked once in a clinic's life. What was typed as passphrase is wiped as soon as the key is made or refused."""

    purpose = "make"

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around)
        self.office = office
        self.trouble = ""
        settings = office.clinic.settings
        self.entries = {
            "clinic": Entry(PATH, 80, text=settings.clinic),
            "exchange": Entry(PATH, 500, text=settings.exchange or str(office.clinic.root / "exchange")),
            "passphrase": Entry(PASSPHRASE, 200, masked=True),
            "again": Entry(PASSPHRASE, 200, masked=True),
        }

    def more_state(self) -> Hashable:
        return (self.trouble, self.entries["clinic"].text, self.entries["exchange"].text)

    def drop(self, path: str) -> None:
        """A folder that was dropped on the window becomes the exchange folder."""
        self.entries["exchange"].write(path)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("desk.key.title"), (24, 22), 900, Look(size=LARGE, bold=True, margin=18))
        top = head.box.bottom + 36
        lines: list[Widget] = []
        for key in self.entries:
            lines.append(self.lined(canvas, key, words(f"desk.key.{key}"), LEFT, top, WIDE))
            top = lines[-1].box.bottom + 14
        notes: list[Widget] = []
        for line, key in zip((lines[0], lines[1], lines[2]), ("clinic", "exchange", "passphrase"), strict=True):
            text = words(f"desk.key.{key}-hint")
            notes.append(words_at(canvas, theme, text, (LEFT + WIDE + 28, line.box.top + 2), 400, size=FINE))
        told = words("desk.key.working") if self.busy else self.trouble
        paper = sheet(Box(24, head.box.bottom + 14, 1232, bottom_of([*lines, *notes]) - head.box.bottom + 16))
        widgets = [head, paper, *lines, *notes]
        tags = [
            Tool("back", words("common.back"), icons.leaf_turn),
            Tool("make", words("desk.key.make"), marks.seal, first=True),
        ]
        placed = foot(canvas, theme, tags)
        if told:
            slip = sentence(
                canvas, theme, told, (0, 0), 1230 - placed[-1].box.right, Look(size=DENSE, bold=True, margin=14)
            )
            placed.append(slip.moved(placed[-1].box.right + 20, 702 - slip.box.height))
        return [*widgets, *placed]

    def acted(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if self.entries["passphrase"].text != self.entries["again"].text:
            self.trouble = self.theme.words("desk.key.unlike")
            self.entries["again"].clear()
            return None
        self.trouble = ""
        self.soon(self._make)
        return None

    def _make(self) -> Transition | None:
        clinic, entries = self.office.clinic, self.entries
        passphrase = entries["passphrase"].text
        entries["passphrase"].clear()
        entries["again"].clear()
        try:
            changed = {
                "clinic": entries["clinic"].text.strip() or "Clinic",
                "exchange": entries["exchange"].text.strip(),
                "language": self.theme.settings.language,
            }
            exchange = changed["exchange"]
            if exchange and "://" not in exchange:
                Path(exchange).expanduser().mkdir(parents=True, exist_ok=True)
            clinic.save_settings(clinic.settings.model_copy(update=changed))
            clinic.make_key(passphrase)
        except PassphraseError as error:
            weak = isinstance(error, GuessablePassphraseError)
            self.trouble = self.theme.words("desk.key.guessable" if weak else "desk.key.short")
            return None
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None
        except OSError as error:
            self.trouble = self.theme.words("desk.key.no-folder", reason=str(error.strerror))
            return None
        return Replace(WordsPage(self.around, self.office, new=True))


class WordsPage(DeskPage):
    """The key's ten words, to be read out to every patient at the first import."""

    def __init__(self, around: Surroundings, office: Office, *, new: bool) -> None:
        super().__init__(around)
        self.office, self.new = office, new

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.words.made" if self.new else "desk.words.title")
        head = sentence(canvas, theme, title, (24, 22), 1100, Look(size=LARGE, bold=True, margin=18))
        hint = words_at(canvas, theme, words("desk.words.hint"), (LEFT, head.box.bottom + 36), 1140, size=SMALL)
        slips = word_grid(canvas, theme, self.office.clinic.words(), bottom_of([hint]) + 28)
        copy = words("desk.words.copy", file=self.office.clinic.key_path.name)
        note = words_at(canvas, theme, copy, (LEFT, bottom_of(slips) + 28), 1140)
        paper = sheet(Box(24, head.box.bottom + 14, 1232, bottom_of([note]) - head.box.bottom + 14))
        tools = [Tool("done", words("desk.words.done"), icons.arrow, first=True)]
        if not self.new:
            tools.append(Tool("change", words("desk.change-key.open"), marks.seal))
        return [head, paper, hint, *slips, note, *foot(canvas, theme, tools)]

    def chosen(self, key: str) -> Transition | None:
        return Replace(ChangeKeyPage(self.around, self.office)) if key == "change" else Back()


class ChangeKeyPage(PassphrasePage):
    """A new key in good order: what it means for the patients, and the passphrase, which stays the same."""

    purpose = "change"

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around)
        self.office = office
        self.entries = {"passphrase": Entry(PASSPHRASE, 200, masked=True)}

    def more_state(self) -> Hashable:
        return self.trouble

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.change-key.title")
        head = sentence(canvas, theme, title, (24, 22), 1100, Look(size=LARGE, bold=True, margin=18))
        told, top = list[Widget](), head.box.bottom + 36
        for key in ("what", "then", "stolen"):
            told.append(
                words_at(canvas, theme, words(f"desk.change-key.{key}"), (LEFT, top), 1140, bold=key == "stolen")
            )
            top = told[-1].box.bottom + 16
        line = self.lined(canvas, "passphrase", words("desk.sign.passphrase"), LEFT, top + 12, WIDE)
        said = words("desk.key.working") if self.busy else self.trouble
        note = [words_at(canvas, theme, said, (LEFT, line.box.bottom + 16), 1140, bold=True)] if said else []
        paper = sheet(Box(24, head.box.bottom + 14, 1232, bottom_of([line, *note]) - head.box.bottom + 16))
        tags = [
            Tool("back", words("common.back"), icons.leaf_turn),
            Tool("change", words("desk.change-key.go"), marks.seal, first=True),
        ]
        return [head, paper, *told, line, *note, *foot(canvas, theme, tags)]

    def acted(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if self.given():
            self.soon(self._change)
        return None

    def _change(self) -> Transition | None:
        changed = self.opened(self.office.clinic.change_key)
        return Replace(WordsPage(self.around, self.office, new=True)) if changed else None


def word_grid(canvas: Canvas, theme: Theme, spoken: tuple[str, ...], top: float) -> list[Widget]:
    """Words to be read out, numbered, five to a row."""
    return [
        _word(canvas, theme, number, word, LEFT + 236 * (number % 5), top + 100 * (number // 5))
        for number, word in enumerate(spoken)
    ]


def _word(canvas: Canvas, theme: Theme, number: int, word: str, left: float, top: float) -> Widget:
    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        middle = box.top + box.height / 2
        theme.letters.write(canvas, f"{number + 1}", (box.left + 4, middle), FINE, theme.ink, anchor="midleft")
        theme.letters.write(canvas, word, (box.left + 34, middle), BODY, theme.ink, bold=True, anchor="midleft")
        canvas.line(theme.ink, [(box.left, box.bottom), (box.right, box.bottom)], 2)

    return picture(Box(left, top, 216, 72), draw)
