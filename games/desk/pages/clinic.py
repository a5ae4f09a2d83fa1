"""What the clinic has set: the same as `desk settings`, each with a word of what it does."""

from __future__ import annotations

from collections.abc import Hashable

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.entry import PASSPHRASE, Entry
from musclewood.games.desk.base.entry_page import EntryPage
from musclewood.games.desk.base.keymaking import WordsPage
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.pieces import DENSE, Tool, foot, sheet
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import LARGE
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.kit.words import LANGUAGES
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Push, Surroundings, Transition
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.errors import TrustError
from musclewood.profiles.exchange.places import whole_address
from pydantic import ValidationError

LEFT, WIDE, HALF, GAP = 64.0, 1152.0, 560.0, 32.0
ROWS = (("clinic",), ("exchange",), ("language", "timezone"), ("silent_days", "review_days_ahead"), ("initials",))
ONE_LINE = PASSPHRASE  # any letters but those that end a line


class ClinicSettingsPage(EntryPage):
    """Nothing is kept before all of it can be."""

    purpose = "keep"

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around)
        self.office, self.trouble = office, ""
        held = office.clinic.settings.model_dump(exclude={"format"})
        for key in (key for row in ROWS for key in row):
            longest = 1000 if key == "exchange" else 80
            self.entries[key] = Entry(ONE_LINE, longest, text="" if held[key] is None else str(held[key]))

    def more_state(self) -> Hashable:
        return self.trouble

    def edited(self) -> None:
        self.trouble = ""

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.clinic.title")
        head = sentence(canvas, theme, title, (24, 18), 700, Look(size=LARGE, bold=True, margin=14))
        top, lines = head.box.bottom + 22, list[Widget]()
        for row in ROWS:
            width = WIDE if row in (("clinic",), ("exchange",)) else HALF
            for number, key in enumerate(row):
                label = words(f"desk.clinic.{key.replace('_', '-')}", languages=" ".join(LANGUAGES))
                lines.append(self.lined(canvas, key, label, LEFT + number * (HALF + GAP), top, width))
            top = bottom_of(lines) + 10
        paper = sheet(head.box._replace(left=24, top=head.box.bottom + 10, width=1232, height=top - head.box.bottom))
        tags = [
            Tool("back", words("common.back"), icons.leaf_turn),
            Tool("keep", words("desk.clinic.keep"), marks.tick, first=True),
        ]
        if self.office.clinic.has_key:
            tags.append(Tool("key", words("desk.words.open"), marks.seal))
        placed = foot(canvas, theme, tags)
        if self.trouble:
            room = 1230 - placed[-1].box.right
            slip = sentence(canvas, theme, self.trouble, (0, 0), room, Look(size=DENSE, bold=True, margin=12))
            placed.append(slip.moved(placed[-1].box.right + 20, 702 - slip.box.height))
        return [head, paper, *lines, *placed]

    def acted(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if key == "key":
            return Push(WordsPage(self.around, self.office, new=False))
        typed = {key: entry.text.strip() for key, entry in self.entries.items()}
        if typed["exchange"]:
            typed["exchange"] = whole_address(typed["exchange"])
        wanted = typed | {"timezone": typed["timezone"] or None}
        try:
            if typed["language"] not in LANGUAGES:
                return self._wrong("language")
            days = {key: int(typed[key]) for key in ("silent_days", "review_days_ahead") if typed[key].isdecimal()}
            settings = DeskSettings.model_validate(wanted | days)
            self.office.clinic.save_settings(settings)
        except ValidationError as error:
            return self._wrong(str(error.errors(include_url=False)[0]["loc"][0]))
        except TrustError as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None
        return Back()

    def _wrong(self, key: str) -> Transition | None:
        self.focus = key
        self.trouble = self.theme.words(f"desk.clinic.wrong.{key.replace('_', '-')}", languages=", ".join(LANGUAGES))
        return None
