"""The clinic's key file: the secret root, locked with a passphrase.

The passphrase goes through Argon2id, which makes every guess cost memory and time, to a key for XSalsa20-Poly1305
(SecretBox), which notices every change. The file is TOML with the public keys in the clear, so that its words can be
shown without the passphrase; they are compared with the secret ones on unlocking.
"""

from __future__ import annotations

import secrets
import tomllib
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import tomli_w
from musclewood.assets.saying import say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import KeyFileError, PassphraseError
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys
from musclewood.profiles.trust.passphrases import refuse_weak
from nacl.exceptions import CryptoError
from nacl.pwhash import argon2id
from nacl.secret import SecretBox
from pydantic import BaseModel, ConfigDict, Field, ValidationError

FORMAT = "musclewood-clinic-key/1"
LARGEST_BYTES = 10_000
_COMMENT = (
    "# The clinic's private key, locked with its passphrase. Keep a copy of this file in a second place, and the\n"
    "# passphrase somewhere else. Whoever has both can issue prescriptions in the clinic's name.\n"
)


@dataclass(frozen=True)
class Hardness:
    """What one guess of the passphrase costs: passes over the memory, and its size in bytes."""

    passes: int
    memory_bytes: int


# libsodium's own levels for Argon2id: 'moderate' takes 256 MiB and about a second.
MODERATE = Hardness(argon2id.OPSLIMIT_MODERATE, argon2id.MEMLIMIT_MODERATE)
LOWEST = Hardness(argon2id.OPSLIMIT_MIN, argon2id.MEMLIMIT_MIN)  # for tests only

Hex = Annotated[str, Field(pattern=r"^([0-9a-f]{2})+$")]


class _Lock(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, defer_build=True)
    kind: Literal["argon2id+xsalsa20poly1305"] = "argon2id+xsalsa20poly1305"
    # Bounded, so that a tampered file cannot ask for all of the computer's memory or for an hour.
    passes: Annotated[int, Field(ge=LOWEST.passes, le=16)]
    memory_bytes: Annotated[int, Field(ge=LOWEST.memory_bytes, le=1 << 30)]
    salt: Annotated[Hex, Field(min_length=2 * argon2id.SALTBYTES, max_length=2 * argon2id.SALTBYTES)]
    sealed_root: Annotated[Hex, Field(min_length=144, max_length=144)]  # nonce 24, root 32, authenticator 16


class _KeyFile(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, defer_build=True)
    format: Literal["musclewood-clinic-key/1"] = "musclewood-clinic-key/1"
    identity: Annotated[Hex, Field(min_length=128, max_length=128)]
    lock: _Lock


def lock(keys: ClinicKeys, passphrase: str, hardness: Hardness = MODERATE, language: str = "en") -> str:
    """The text of a key file. Raises PassphraseError for a passphrase that is too short or would be guessed."""
    refuse_weak(_plain(passphrase), language)
    salt = secrets.token_bytes(argon2id.SALTBYTES)
    sealed = SecretBox(stretched(passphrase, salt, hardness)).encrypt(keys.root)
    locked = _Lock(
        passes=hardness.passes, memory_bytes=hardness.memory_bytes, salt=salt.hex(), sealed_root=sealed.hex()
    )
    return _COMMENT + tomli_w.dumps(_KeyFile(identity=keys.identity.joined.hex(), lock=locked).model_dump())


def unlock(text: str, passphrase: str) -> ClinicKeys:
    """The keys in a key file. Raises PassphraseError for a wrong passphrase, KeyFileError for a bad file."""
    file = _parsed(text)
    hardness = Hardness(file.lock.passes, file.lock.memory_bytes)
    key = stretched(passphrase, bytes.fromhex(file.lock.salt), hardness)
    try:
        root = SecretBox(key).decrypt(bytes.fromhex(file.lock.sealed_root))
    except CryptoError:
        problem = say("wrong.passphrase-not-of-key")
        raise PassphraseError(problem, say("mend.try-again-surely-right")) from None
    keys = ClinicKeys(root)
    if keys.identity.joined.hex() != file.identity:
        raise KeyFileError(say("wrong.public-keys-key-file"), say("mend.use-second-copy-file"))
    return keys


def public_identity(text: str) -> ClinicIdentity:
    """Whose key file this is, without a passphrase. Only `unlock` proves it. Raises KeyFileError."""
    return ClinicIdentity.from_bytes(bytes.fromhex(_parsed(text).identity))


def identity_in(path: Path) -> ClinicIdentity:
    """Whose key file lies there, without a passphrase. Raises KeyFileError, StorageError."""
    return public_identity(_text(path))


def create_key_file(path: Path, passphrase: str, hardness: Hardness = MODERATE, language: str = "en") -> ClinicKeys:
    """Make a new key pair and its locked file. Raises PassphraseError; KeyFileError rather than overwrite a key."""
    if path.exists():
        raise KeyFileError(say("wrong.already-file", name=path.name), say("mend.choose-another-name-lost"))
    keys = ClinicKeys.new()
    write_whole(path, lock(keys, passphrase, hardness, language).encode())
    return keys


def open_key_file(path: Path, passphrase: str) -> ClinicKeys:
    """The keys in a file. Raises PassphraseError, KeyFileError, StorageError."""
    return unlock(_text(path), passphrase)


def change_passphrase(path: Path, old: str, new: str, hardness: Hardness = MODERATE, language: str = "en") -> None:
    """Lock the same keys anew; the old file stays until the new one is whole. Raises as opening and locking do."""
    write_whole(path, lock(open_key_file(path, old), new, hardness, language).encode())


def _text(path: Path) -> str:
    try:
        return read_bounded(path, LARGEST_BYTES).decode("utf-8")
    except UnicodeDecodeError:
        raise KeyFileError(say("wrong.no-key-file", name=path.name), say("mend.choose-clinic-key-file")) from None


def _parsed(text: str) -> _KeyFile:
    try:
        return _KeyFile.model_validate(tomllib.loads(text))
    except (ValidationError, ValueError, RecursionError):
        raise KeyFileError(say("wrong.no-whole-key-file"), say("mend.choose-clinic-key-file")) from None


def stretched(passphrase: str, salt: bytes, hardness: Hardness) -> bytes:
    """A key of 32 bytes from a passphrase. Raises KeyFileError without enough memory."""
    try:
        return argon2id.kdf(
            SecretBox.KEY_SIZE,
            _plain(passphrase).encode(),
            salt,
            opslimit=hardness.passes,
            memlimit=hardness.memory_bytes,
        )
    except (CryptoError, MemoryError):
        wanted = hardness.memory_bytes >> 20
        raise KeyFileError(
            say("wrong.unlocking-needs-mb-free", wanted=wanted), say("mend.close-other-programs-try")
        ) from None


def _plain(passphrase: str) -> str:
    """One form for all keyboards: an 'é' typed in one stroke or in two is the same passphrase."""
    return unicodedata.normalize("NFKC", passphrase).strip()
