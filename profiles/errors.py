"""What can go wrong with orders and records, grouped by who must act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from musclewood.assets.saying import Saying, say


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a file: where it is, what is wrong, what would be right."""

    key_path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return self.line

    @property
    def line(self) -> Saying:
        """All of it, for a person."""
        return say("wrong.at", place=self.key_path, problem=self.problem, remedy=self.remedy)


class PrescriptionError(Exception):
    """The therapist can mend it: a prescription with faults, all of them named."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__(*(fault.line for fault in faults))
        self.faults = tuple(faults)

    def __str__(self) -> str:
        return "\n".join(self.args)


class JournalError(Exception):
    """The patient can mend it, or ask for help: the journal cannot be opened or written. `remedy` says what to do."""

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(say("wrong.and-mend", problem=problem, remedy=remedy))
        self.problem = problem
        self.remedy = remedy


class HandoverError(Exception):
    """The therapist can mend it: a file that is no sound hand-over. `remedy` says what to do."""

    def __init__(self, problem: str, remedy: str = "ask for the hand-over again") -> None:
        super().__init__(say("wrong.and-mend", problem=problem, remedy=remedy))
        self.problem = problem
        self.remedy = remedy


# --- between clinic and home; every one is a single clear line


class TrustError(Exception):
    """A file was refused and nothing was changed. `problem` says what is wrong, `remedy` what to do.

    `letter` is what a patient is told of it, a key under `letters` in the catalogues.
    """

    letter: ClassVar[str] = "trouble"

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(say("wrong.and-mend", problem=problem, remedy=remedy))
        self.problem = problem
        self.remedy = remedy


# --- whoever carries the file: copy it again


class CopyAgainError(TrustError):
    """The file may be fine where it came from: wait for the copy to finish, or copy it again."""

    letter = "copy-again"


class IncompleteFileError(CopyAgainError):
    """Only a part of the file has arrived."""


class DamagedFileError(CopyAgainError):
    """The file is not what was signed or sealed: changed on the way, or forged."""


class StorageError(CopyAgainError):
    """A folder cannot be read or written: full, missing, or protected."""

    letter = "no-folder"


# --- the patient, or whoever helps at home


class HomeError(TrustError):
    """Somebody at home must act, usually by calling the clinic."""


class NotConfirmedError(HomeError):
    """The clinic's words were not confirmed, so the clinic is not trusted yet."""


class AnotherClinicError(HomeError):
    """Signed by a key that is not the paired clinic's."""

    letter = "another-clinic"


class UnsignedError(HomeError):
    """An unsigned prescription on a computer that is paired with a clinic."""

    letter = "unsigned"


class OtherPatientError(HomeError):
    """A file of another patient than the one in question."""

    letter = "other-patient"


class NotPairedError(HomeError):
    """There is no clinic yet that a hand-over could be sealed to."""


class PinError(HomeError):
    """What is remembered about the clinic cannot be read; it is never taken for 'never paired'."""


class SenderError(HomeError):
    """This computer's own sender key cannot be read; a new one is only made on request."""


# --- the therapist


class ClinicError(TrustError):
    """The therapist must act: issue anew, find the right key, ask the patient."""


class PassphraseError(ClinicError):
    """The passphrase does not open the key file, or is too short to lock one."""


class GuessablePassphraseError(PassphraseError):
    """A new passphrase that is long enough and would be guessed all the same."""


class KeyFileError(ClinicError):
    """The key file cannot be used, or would be overwritten."""


class OlderRevisionError(ClinicError):
    """A newer revision is already in force."""

    letter = "older"


class RevisionConflictError(ClinicError):
    """Two different files carry the same revision."""


class ExpiredError(ClinicError):
    """The prescription's last day has passed."""

    letter = "expired"


class AnotherKeyError(ClinicError):
    """A hand-over that was sealed to another clinic's key."""


class ReplayedError(ClinicError):
    """The number of this hand-over was already used."""


class AlreadyReceivedError(ReplayedError):
    """This very hand-over was received before; nothing needs to be done."""


class UnknownHomeError(ClinicError):
    """A hand-over from a computer that was not accepted for this patient."""


class BackupError(ClinicError):
    """A backup that cannot be made, opened, or put where it should go."""


class SetAsideError(ClinicError):
    """A hand-over that a patient's computer sealed, and that cannot be read: it was put aside and noted."""


class ArchiveError(ClinicError):
    """A zip that is not safe to open."""


class LedgerError(ClinicError):
    """What is remembered about received hand-overs cannot be read; it is never taken for 'nothing received'."""
