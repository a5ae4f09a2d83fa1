"""Letters between home and clinic, as the launcher needs them: take one in, visit the exchange folder, say what
happened.

Confirming a clinic takes two steps on a screen: the first try stops at the words, the second brings the words that a
person has compared.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from musclewood.games.home.handing_over import Packing
from musclewood.games.home.places import MEDIA, exchange_on_a_stick
from musclewood.games.running.browser import show_in_browser
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import (
    AnotherClinicError,
    JournalError,
    NotConfirmedError,
    PrescriptionError,
    StorageError,
    TrustError,
    UnsignedError,
)
from musclewood.profiles.exchange.admission import Admission, Introduction, Unsigned
from musclewood.profiles.exchange.places import open_place, whole_address
from musclewood.profiles.home import exchange as home_exchange
from musclewood.profiles.home.homes import Home
from musclewood.profiles.trust.senders import SenderFolder
from musclewood.profiles.trust.signature import LARGEST_BYTES
from musclewood.signal.sensors.description import FORMAT, SensorDescriptionError, parse_description

SENT_NAME = "sent.json"
FIRST_BYTES = 4000  # the format stands first in a file; comments may stand before it

Words = tuple[str, ...]
Told = tuple[str, dict[str, object]]


@dataclass(frozen=True)
class PostResult:
    """What came of it.

    told: keys of the catalogue's section `letters` with their values; asks: a clinic whose words must be compared
    before anything is taken in; unsigned: an order that nobody signed, for a person to say yes or no to; own_words:
    this computer's, for the clinic to compare; another_clinic: refused, because it is not the clinic that this computer
    is paired with.
    """

    told: tuple[Told, ...] = ()
    asks: Introduction | None = None
    unsigned: Unsigned | None = None
    own_words: Words = ()
    another_clinic: bool = False


class Post:
    """`changed` becomes true once a prescription was let in, so that the launcher begins anew with it; `begins`, if
    somebody wants to begin at once.

    pack: puts into the outbox what was done since the program began, so that it goes too.
    """

    def __init__(
        self,
        home: Home,
        today: Callable[[], date],
        pack: Packing | None = None,
        show: Callable[[Path], bool] = show_in_browser,
        media: Sequence[str] = MEDIA,
    ) -> None:
        self._home, self._today, self._pack, self._show, self._media = home, today, pack, show, media
        self.changed = self.begins = False
        self.waiting = 0
        self.stick: Path | None = None
        self._work = ThreadPoolExecutor(max_workers=1, thread_name_prefix="looking")
        self._looking: Future[None] | None = None

    @property
    def readable(self) -> bool:
        """Whether there is a report to read."""
        return self._pack is not None

    def look(self) -> None:
        """See in a thread what waits to be sent, and whether a stick with an exchange folder is
        in; `waiting`, `stick`."""
        if self._looking is None or self._looking.done():
            self._looking = self._work.submit(self._look)

    def _look(self) -> None:
        kept = self._sent()
        pending = self._pack is not None and self._pack.pending
        self.waiting = max(sum(name not in kept for name in self._sealed()), int(pending))
        self.stick = exchange_on_a_stick(self._media)

    def _sealed(self) -> list[str]:
        return sorted(path.name for path in self._home.outbox.glob("*.sealed"))

    def _sent(self) -> list[str]:
        """Names of what lay in the outbox at the last visit. A missing or broken file is nothing."""
        try:
            return [str(name) for name in json.loads((self._home.root / SENT_NAME).read_text("utf-8"))]
        except (OSError, ValueError, TypeError):
            return []

    def show_report(self) -> PostResult:
        """Write the patient's own report, and open it in the system's browser."""
        if self._pack is None:
            return PostResult((_line("no-report"),))
        try:
            path = self._pack.report()
        except (JournalError, TrustError, OSError):
            return PostResult((_line("no-report"),))
        return PostResult((_line("report-open" if self._show(path) else "no-browser", file=str(path)),))

    @property
    def address(self) -> str:
        """The exchange folder of the last visit, '' before the first."""
        return home_exchange.remembered_address(self._home)

    def receive(
        self, path: str, compared: Words = (), *, new_clinic: bool = False, although: Unsigned | None = None
    ) -> PostResult:
        """A file is taken in as a prescription; a folder, or an address, is visited as the exchange folder.

        compared: the clinic's words that a person found to be the same; new_clinic: the patient asked for another one;
        although: the order that a person wants although nobody signed it.
        """
        asked = _Asked(compared, although)
        try:
            if Path(path).is_file():
                content = read_bounded(Path(path), LARGEST_BYTES)
                if is_description(content):
                    return self._sensor(Path(path), content)
                return self._let_in(
                    home_exchange.take(
                        self._home,
                        content,
                        today=self._today(),
                        confirm=asked,
                        confirm_unsigned=asked.although,
                        new_clinic=new_clinic,
                    )
                )
            return self._visit(whole_address(path), asked, new_clinic)
        except (TrustError, PrescriptionError) as error:
            return _refused(error, asked)

    def _sensor(self, path: Path, content: bytes) -> PostResult:
        """Keep the description of a sensor that somebody dropped, if it has no mistakes; they are named by `check`."""
        try:
            sensor = parse_description(content.decode("utf-8"), path.stem)
        except (SensorDescriptionError, UnicodeDecodeError):
            return PostResult((_line("sensor-faulty", file=path.name),))
        write_whole(self._home.root / "sensors" / f"{path.stem}.toml", content)
        return PostResult((_line("sensor-known", name=sensor.name),))

    def send_as_new(self) -> PostResult:
        """Send as a new computer from the next hand-over on, and show the words that the clinic will ask for.

        With several patients here, the command line says for whom.
        """
        patients = self._home.patients()
        if len(patients) != 1:
            return PostResult((_line("trouble"),))
        try:
            SenderFolder(self._home.trust).renew(patients[0])
            return PostResult(
                (_line("new-sender-done"),), own_words=home_exchange.computer_words(self._home, patients[0])
            )
        except TrustError as error:
            return _refused(error, _Asked(()))

    def _visit(self, address: str, asked: _Asked, new_clinic: bool) -> PostResult:
        """Fetch what is new, and send what waits.  Raises TrustError."""
        if not self._home.patients():
            return PostResult((_line("first-file"),))
        place, today = open_place(address), self._today()
        packed = self._packed()
        done = home_exchange.visit(self._home, place, today=today, confirm=asked, new_clinic=new_clinic)
        home_exchange.remember_address(self._home, address)
        answers = [self._let_in(one.admission) for one in done.fetched.values() if one.admission is not None]
        answers += [_refused(refusal.reason, asked) for one in done.fetched.values() for refusal in one.refused]
        with suppress(StorageError):
            write_whole(self._home.root / SENT_NAME, json.dumps(self._sealed()).encode())
        self.waiting = 0
        told = [line for answer in answers for line in answer.told] if answers else [_line("nothing-new")]
        told.append(_line("sent", count=len(done.sent)) if done.sent else self._not_sent(packed))
        return PostResult(
            tuple(told),
            asked.introduction,
            None,
            next((answer.own_words for answer in answers if answer.own_words), ()),
            any(answer.another_clinic for answer in answers),
        )

    def _packed(self) -> bool:
        """Whether the outbox holds everything that was done. Raises TrustError."""
        try:
            if self._pack is not None:
                self._pack()
        except (JournalError, OSError):
            return False
        return True

    def _not_sent(self, packed: bool) -> Told:
        """Why nothing went: something is in the way of it, or really nothing waits."""
        if not packed:
            return _line("not-packed")
        unsealed = any(self._home.outbox.glob("*.zip"))  # of an order that nobody signed: there is no key to seal it to
        return _line("waits-unsealed" if unsealed else "nothing-to-send")

    def _let_in(self, admission: Admission) -> PostResult:
        # A yes to an order that nobody signed counts from now on, though the file may have lain in its place before.
        self.changed = self.changed or admission.changed or admission.standing == "unsigned"
        told: tuple[Told, ...] = (
            _line("let-in" if admission.changed else "known", clinic=admission.prescription.clinic),
        )
        if admission.prescription.acknowledged:
            told = (*told, _line("unusual"))
        if admission.standing not in ("first", "new clinic"):
            return PostResult(told)
        return PostResult(told, own_words=home_exchange.computer_words(self._home, admission.prescription.patient))


def _line(key: str, **values: object) -> Told:
    return key, values


def _refused(error: TrustError | PrescriptionError, asked: _Asked) -> PostResult:
    if isinstance(error, PrescriptionError):
        return PostResult((_line("faulty"),))
    if isinstance(error, NotConfirmedError):
        return PostResult(asks=asked.introduction)
    if isinstance(error, UnsignedError) and asked.unsigned is not None:
        return PostResult(unsigned=asked.unsigned)
    return PostResult((_line(error.letter),), another_clinic=isinstance(error, AnotherClinicError))


def is_description(content: bytes) -> bool:
    """Whether a file is the description of a sensor, good or faulty, rather than a letter."""
    return FORMAT.encode() in content[:FIRST_BYTES] and b"musclewood-prescription/" not in content[:FIRST_BYTES]


class _Asked:
    """Stands for the person who compares: yes only to the words that were compared before; remembers what was asked."""

    def __init__(self, compared: Words, wanted: Unsigned | None = None) -> None:
        self._compared, self._wanted = compared, wanted
        self.introduction: Introduction | None = None
        self.unsigned: Unsigned | None = None

    def although(self, order: Unsigned) -> bool:
        """Yes only to the very order that a person saw."""
        self.unsigned = None if order == self._wanted else order
        return order == self._wanted

    def __call__(self, introduction: Introduction) -> bool:
        same = bool(self._compared) and introduction.words == self._compared
        self.introduction = None if same else introduction
        return same
