"""A page with lines to type into. Tab goes from line to line, Enter on to the next, Escape back."""

from __future__ import annotations

from collections.abc import Callable, Hashable

from musclewood.games.desk.base.editing import letter_at, write_line
from musclewood.games.desk.base.entry import Entry
from musclewood.games.desk.base.office import as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, inset, picture
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.base.page import Surroundings, Transition
from musclewood.profiles.errors import PassphraseError, TrustError


class EntryPage(DeskPage):
    """`entries` by the key of their widget; `purpose` is what Enter does in the last of them."""

    purpose = ""

    def __init__(self, around: Surroundings) -> None:
        super().__init__(around)
        self.entries: dict[str, Entry] = {}
        self._canvas: Canvas | None = None  # that it was laid out for

    def state(self) -> Hashable:
        return (
            self.focus if self.typing else "",
            self.busy,
            tuple(len(entry.text) for entry in self.entries.values()),
            self.more_state(),
        )

    def more_state(self) -> Hashable:
        """What else changes the layout."""
        return None

    @property
    def typing(self) -> bool:
        return self.focus in self.entries

    def type(self, letters: str) -> Transition | None:
        if not self.busy and (entry := self.entries.get(self.focus)) and entry.type(letters):
            self.edited()
        return None

    @property
    def line(self) -> Entry | None:
        return self.entries.get(self.focus)

    def handle(self, intent: Intent) -> Transition | None:
        if self.busy:
            return None
        if intent.act is Act.POINT and self.typing:
            return None  # a hand that brushes the mouse must not move the letters elsewhere
        if intent.act is Act.CHOOSE and self.typing:
            return self._onward()
        if intent.act is Act.PRESS and intent.at and (under := self._under(intent.at)) and under.key in self.entries:
            self._press(under, intent.at)
        return super().handle(intent)

    def ring_room(self, widget: Widget) -> float:
        return 6.0 if widget.key in self.entries else 0.0

    def _press(self, under: Widget, at: Point) -> None:
        """The caret goes to where a line was pressed."""
        entry = self.entries[under.key]
        if self._canvas is not None:
            entry.put(letter_at(self._canvas, self.theme, entry.seen, under.box, at[0], SMALL))

    def _onward(self) -> Transition | None:
        """Enter: to the next line, and from the last one to what the page is for."""
        lines = list(self.entries)
        place = lines.index(self.focus) + 1
        if place < len(lines):
            self.focus = lines[place]
        elif self.purpose:
            return self.acted(self.purpose)
        else:
            self._step(1)
        return None

    def chosen(self, key: str) -> Transition | None:
        """A line that is pressed is typed into; everything else is `acted` on."""
        return None if key in self.entries else self.acted(key)

    def acted(self, key: str) -> Transition | None:
        raise NotImplementedError

    def lined(self, canvas: Canvas, key: str, label: str, left: float, top: float, width: float) -> Widget:
        """One labelled line; the label stands above it."""
        theme, self._canvas = self.theme, canvas
        head = theme.letters.line_height(DENSE)
        entry, active = self.entries[key], self.focus == key
        high = max(48.0, theme.letters.line_height(SMALL) + 12)

        def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
            theme.letters.write(canvas, label, (box.left, box.top), DENSE, theme.ink, bold=True)
            place = Box(box.left, box.bottom - high, box.width, high)
            inset(canvas, theme, place, active=active)
            write_line(canvas, theme, entry.seen, place, SMALL, active=active)

        return picture(Box(left, top, width, head + high + 2), draw, key)


class PassphrasePage(EntryPage):
    """One of its lines is the key's passphrase; `trouble` says what was wrong with it, "" at first."""

    def __init__(self, around: Surroundings) -> None:
        super().__init__(around)
        self.trouble = ""

    def given(self) -> bool:
        """Whether a passphrase stands there; if not, that is said, and its line is the one to type into."""
        if self.entries["passphrase"].text:
            self.trouble = ""
            return True
        self.trouble, self.focus = self.theme.words("desk.sign.no-passphrase"), "passphrase"
        return False

    def opened(self, use: Callable[[str], object]) -> bool:
        """Whether the passphrase did for `use`; it is forgotten either way, and what was wrong is said."""
        passphrase = self.entries["passphrase"].text
        self.entries["passphrase"].clear()
        try:
            use(passphrase)
        except PassphraseError:
            self.trouble, self.focus = self.theme.words("desk.sign.wrong"), "passphrase"
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
        else:
            return True
        return False
