"""What came back: the passphrase, a question for every computer that is new, and one line for each hand-over."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from contextlib import suppress

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.entry import PASSPHRASE, Entry
from musclewood.games.desk.base.entry_page import PassphrasePage
from musclewood.games.desk.base.keymaking import word_grid
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.pieces import FINE, Tool, foot, picture, sheet, words_at
from musclewood.games.home.places import MEDIA, exchange_besides
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, sentence
from musclewood.games.kit.words import told
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Surroundings, Transition
from musclewood.profiles.clinic.clinic import Arrival
from musclewood.profiles.errors import SetAsideError, TrustError, UnknownHomeError
from musclewood.profiles.exchange.reception import NewSender
from musclewood.profiles.trust.keys import ClinicKeys

LEFT, WIDE = 64.0, 560.0


class CollectPage(PassphrasePage):
    """The unlocked key lives in this page only while it asks about new computers."""

    purpose = "collect"

    def __init__(self, around: Surroundings, office: Office, media: Sequence[str] = MEDIA) -> None:
        super().__init__(around)
        self.office, self._media = office, media
        self.lines: list[tuple[Drawing, str]] = []
        self.done = False
        self.asked: list[NewSender] = []  # computers that the therapist is asked about, one after the other
        self._accepted: set[tuple[str, ...]] = set()
        self._keys: ClinicKeys | None = None
        self._arrivals: list[Arrival] = []  # named to the therapist once this page is left
        self._ask()

    def _ask(self) -> None:
        self.entries = {"passphrase": Entry(PASSPHRASE, 200, masked=True)}
        self.focus = "passphrase"

    def more_state(self) -> Hashable:
        return (self.trouble, len(self.lines), self.done, len(self.asked))

    # -- laid out

    def build(self, canvas: Canvas) -> list[Widget]:
        if self.asked:
            return self._question(canvas, self.asked[0])
        if self.done:
            return self._result(canvas)
        theme, words = self.theme, self.theme.words
        head = sentence(
            canvas, theme, words("desk.collect.title"), (24, 22), 1000, Look(size=LARGE, bold=True, margin=18)
        )
        top = head.box.bottom + 40
        line = self.lined(canvas, "passphrase", words("desk.sign.passphrase"), LEFT, top, WIDE)
        told = words("desk.collect.working") if self.busy else self.trouble or words("desk.collect.hint")
        note = words_at(canvas, theme, told, (LEFT, line.box.bottom + 16), 1100, bold=bool(self.trouble))
        paper = sheet(Box(24, head.box.bottom + 16, 1232, bottom_of([note]) - head.box.bottom + 10))
        tags = [
            Tool("back", words("common.back"), icons.leaf_turn),
            Tool("collect", words("desk.collect.go"), marks.tray, first=True),
        ]
        return [head, paper, line, note, *foot(canvas, theme, tags)]

    def _question(self, canvas: Canvas, sender: NewSender) -> list[Widget]:
        """Is this the patient's computer? Its words are to be compared on the telephone."""
        theme, words = self.theme, self.theme.words
        title = words("desk.collect.new", code=sender.patient)
        head = sentence(canvas, theme, title, (24, 22), 1200, Look(size=LARGE, bold=True, margin=18))
        hint = words("desk.collect.further" if sender.further else "desk.collect.first")
        told = words_at(canvas, theme, hint, (LEFT, head.box.bottom + 40), 1120, size=SMALL)
        said = word_grid(canvas, theme, sender.words, told.box.bottom + 24)
        paper = sheet(Box(24, head.box.bottom + 16, 1232, bottom_of(said) - head.box.bottom + 16))
        tags = [
            Tool("yes", words("desk.collect.yes"), marks.tick, first=True),
            Tool("no", words("desk.collect.no"), marks.cross),
        ]
        return [head, paper, told, *said, *foot(canvas, theme, tags)]

    def _result(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        received = sum(1 for sign, _ in self.lines if sign is marks.leaf)
        title = words.count("desk.collect.received", received)
        head = sentence(canvas, theme, title, (24, 22), 1200, Look(size=LARGE, bold=True, margin=18))
        top, placed = head.box.bottom + 40, []
        for sign, text in self.lines:
            block = words_at(canvas, theme, text, (LEFT + 40, top), 1110)
            if block.box.bottom > 600:
                placed.append(words_at(canvas, theme, words("desk.collect.more"), (LEFT + 40, top), 1110, size=FINE))
                break
            placed += [picture(Box(LEFT, top + 1, 26, 26), sign), block]
            top = block.box.bottom + 8
        done = Tool("back", words("desk.words.done"), icons.arrow, first=True)
        if not placed:
            return [head, *foot(canvas, theme, [done])]
        paper = sheet(Box(24, head.box.bottom + 16, 1232, bottom_of(placed) - head.box.bottom + 10))
        return [head, paper, *placed, *foot(canvas, theme, [done])]

    # -- done

    def acted(self, key: str) -> Transition | None:
        if key == "back":
            self._keys = None
            self._seen()
            return Back()
        if key in ("yes", "no"):
            return self._answered(key == "yes")
        if self.given():
            self.soon(self._unlock)
        return None

    def _unlock(self) -> Transition | None:
        def unlock(passphrase: str) -> None:
            self._keys = self.office.clinic.unlock(passphrase)

        return self._look() if self.opened(unlock) else None

    def _look(self) -> Transition | None:
        """Collect; computers that nobody was asked about yet are refused for now, and asked about."""
        assert self._keys is not None
        unknown: dict[tuple[str, ...], NewSender] = {}

        def confirm(sender: NewSender) -> bool:
            if sender.words not in self._accepted:
                unknown[sender.words] = sender
            return sender.words in self._accepted

        brought = exchange_besides(self.office.clinic.settings.exchange, self._media)
        try:
            collected = self.office.clinic.collect(self._keys, self.office.today, confirm, brought)
        except TrustError as error:
            self._keys, self.trouble = None, as_sentence(self.theme.words, error)
            return None
        self._tell_arrivals()
        self.asked = [] if self._accepted else list(unknown.values())
        for refusal in collected.refused:
            if isinstance(refusal.reason, SetAsideError):
                continue  # told already
            if not (self.asked and isinstance(refusal.reason, UnknownHomeError)):
                self.lines.append((marks.warning, f"{refusal.name}: {told(self.theme.words, refusal.reason)}"))
        self.entries, self.focus = {}, ""
        self.office.forget()
        if not self.asked:
            self._keys, self.done = None, True
        return None

    def _tell_arrivals(self) -> None:
        words = self.theme.words
        told = {arrival.receipt.mark for arrival in self._arrivals}
        for arrival in self.office.clinic.to_be_named():
            code, fault = arrival.receipt.patient, arrival.receipt.fault
            if arrival.receipt.mark in told:
                continue
            self._arrivals.append(arrival)
            again = f" {words('desk.collect.again')}" if arrival.again else ""
            if fault:
                self.lines.append((marks.warning, words("desk.collect.set-aside", code=code, reason=fault) + again))
            else:
                late = f" {words('desk.collect.late')}" if arrival.late else ""
                self.lines.append((marks.leaf, words("desk.collect.one", code=code) + late + again))

    def _answered(self, same: bool) -> Transition | None:
        sender, *self.asked = self.asked
        words = self.theme.words
        if same:
            self._accepted.add(sender.words)
        else:
            self.lines.append((marks.warning, words("desk.collect.not-taken", code=sender.patient)))
        if self.asked:
            return None
        if self._accepted:
            return self._look_again()
        self._keys, self.done = None, True
        return None

    def _look_again(self) -> Transition | None:
        """With what was accepted now; what was refused is told already."""
        told = [text for sign, text in self.lines if sign is marks.warning]
        self._look()
        kept: list[tuple[Drawing, str]] = []
        for sign, text in self.lines:
            if sign is marks.warning and text in told:
                told.remove(text)
                kept.append((sign, text))
            elif sign is marks.leaf:
                kept.append((sign, text))
        self.lines = kept
        return None

    def back(self) -> Transition | None:
        if self.asked:
            return None
        self._seen()
        return Back()

    def _seen(self) -> None:
        with suppress(TrustError):  # a disk that refuses it costs only that it is told once more
            self.office.clinic.named(self._arrivals)
