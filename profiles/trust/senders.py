"""The home side's sender: for each patient on this computer, a key that signs hand-overs, and the last number used.

One patient on two computers has two senders, each with its own numbers, and the clinic accepts each once. The key is
kept without a passphrase, readable by this user alone: the journal, which is all that it vouches for, lies in the same
place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from hashlib import blake2b
from pathlib import Path
from typing import Annotated, Literal

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import NotPairedError, SenderError, StorageError
from musclewood.profiles.trust.keys import FINGERPRINT_BYTES
from musclewood.profiles.trust.pins import PinFolder, safe_code
from musclewood.profiles.trust.sealing import seal
from musclewood.profiles.trust.words import to_words
from nacl.signing import SigningKey
from pydantic import BaseModel, ConfigDict, Field, ValidationError

_SUFFIX = ".sender.json"


class Sender(BaseModel):
    """One patient on one computer. `sequence` is the last number used."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    format: Literal["musclewood-sender/1"] = "musclewood-sender/1"
    patient: str
    seed: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$", repr=False)]
    sequence: Annotated[int, Field(ge=0)] = 0

    @property
    def key(self) -> SigningKey:
        return SigningKey(bytes.fromhex(self.seed))

    @property
    def public(self) -> bytes:
        return bytes(self.key.verify_key)


@dataclass(frozen=True)
class SenderFolder:
    """Where sender files live on this computer."""

    folder: Path

    def load(self, patient: str) -> Sender:
        """This patient's sender, made when there is none. Raises SenderError, StorageError."""
        with locked(self._path(patient)):
            return self._present(patient)

    def renew(self, patient: str) -> Sender:
        """A new sender, as on a new computer; the clinic will ask about it once.

        Also the way out after this computer was set back to a backup, when old numbers would be used again.
        """
        with locked(self._path(patient)):
            return self._made(patient)

    def advance(self, patient: str) -> Sender:
        """The sender with the next number, which is used up on return even if nothing comes of it."""
        with locked(self._path(patient)):
            sender = self._present(patient)
            following = sender.model_copy(update={"sequence": sender.sequence + 1})
            self._save(following)
            return following

    def _present(self, patient: str) -> Sender:
        path = self._path(patient)
        return self._read(path, patient) if path.exists() else self._made(patient)

    def _made(self, patient: str) -> Sender:
        sender = Sender(patient=patient, seed=bytes(SigningKey.generate()).hex())
        self._save(sender)
        return sender

    def _read(self, path: Path, patient: str) -> Sender:
        try:
            sender = Sender.model_validate_json(read_bounded(path, 10_000))
        except (ValidationError, StorageError):
            sender = None
        if sender is None or sender.patient != patient:
            problem = say("wrong.key-computer-signs-hand", patient=patient)
            raise SenderError(problem, say("mend.restore-or-new-sender"))
        return sender

    def _save(self, sender: Sender) -> None:
        write_whole(self._path(sender.patient), (sender.model_dump_json(indent=2) + "\n").encode())

    def _path(self, patient: str) -> Path:
        return self.folder / f"{safe_code(patient)}{_SUFFIX}"


def sender_words(public: bytes) -> tuple[str, ...]:
    """Words by which a therapist can ask a patient on the telephone: is this your computer?"""
    return to_words(blake2b(public, digest_size=FINGERPRINT_BYTES, person=b"mw-sender").digest())


def handover_name(patient: str, public: bytes, sequence: int) -> str:
    """How a hand-over is called. Only a help for people: what counts is the header under the seal."""
    return f"{safe_code(patient)}-{public[:4].hex()}-{sequence:06d}"


def sealer(
    patient: str, pin_folder: PinFolder, sender_folder: SenderFolder, *, made: datetime
) -> Callable[[bytes], bytes]:
    """What seals a hand-over's bytes to the paired clinic, each call under a number of its own.

    Args: the patient's code; when the hand-over was made, with its offset.
    Raises NotPairedError, PinError; the sealer raises SenderError, StorageError.
    """
    pins = pin_folder.load(patient)
    if pins is None:
        raise NotPairedError(
            say("wrong.not-paired-clinic", patient=patient), say("mend.import-signed-prescription-first")
        )
    clinic = pins.current.identity

    def seal_with_next_number(payload: bytes) -> bytes:
        sender = sender_folder.advance(patient)
        return seal(payload, patient=patient, sequence=sender.sequence, sender=sender.key, clinic=clinic, made=made)

    return seal_with_next_number
