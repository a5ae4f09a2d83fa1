"""The keys of a desk: the one that signs now, those that it took the place of, and the lines by which they vouch.

clinic-key.toml                         the private key, locked with the clinic's passphrase
earlier-keys/FINGERPRINT.toml           a key that was changed, locked with the same passphrase
earlier-keys/FINGERPRINT.vouched        the line by which the key before vouches for the one so named
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import BackupError, PassphraseError
from musclewood.profiles.trust.backup import opened_backup
from musclewood.profiles.trust.key_file import (
    LARGEST_BYTES,
    Hardness,
    change_passphrase,
    create_key_file,
    identity_in,
    lock,
    open_key_file,
)
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys
from musclewood.profiles.trust.signature import sign
from musclewood.profiles.trust.succession import vouching_line

KEY_NAME = "clinic-key.toml"


class Keyring:
    """Every change is made so that until its last write the keys before are in force, and trying again begins anew."""

    def __init__(self, root: Path) -> None:
        self.path = root / KEY_NAME
        self._earlier = root / "earlier-keys"

    def __bool__(self) -> bool:
        return self.path.exists()

    @property
    def identity(self) -> ClinicIdentity:
        """Of the key that signs now; no passphrase is needed. Raises KeyFileError, StorageError."""
        return identity_in(self.path)

    @property
    def identities(self) -> frozenset[ClinicIdentity]:
        """All that hand-overs may be sealed to. Raises KeyFileError, StorageError."""
        return frozenset(identity_in(path) for path in (self.path, *self._earlier_keys())) if self else frozenset()

    def make(self, passphrase: str, hardness: Hardness, language: str) -> ClinicKeys:
        """A new key pair. Raises PassphraseError, KeyFileError, StorageError."""
        return create_key_file(self.path, passphrase, hardness, language)

    def unlock(self, passphrase: str) -> ClinicKeys:
        """The private keys. Raises as `make` does."""
        keys = open_key_file(self.path, passphrase)
        return replace(keys, earlier=tuple(open_key_file(path, passphrase) for path in self._earlier_keys()))

    def change(self, passphrase: str, hardness: Hardness, language: str) -> ClinicKeys:
        """A new key that the old one vouches for. Raises as `make` does.

        In this order: the old key's second copy, the line that vouches, the new key.
        """
        old, new = self.unlock(passphrase), ClinicKeys.new()
        write_whole(self._kept(old.identity, "toml"), read_bounded(self.path, LARGEST_BYTES))
        write_whole(self._kept(new.identity, "vouched"), vouching_line(old, new.identity))
        write_whole(self.path, lock(new, passphrase, hardness, language).encode())
        return self.unlock(passphrase)

    def take(self, backup: Path, passphrase: str) -> None:
        """The keys of another desk of the same clinic, from its backup; they stay locked with that desk's passphrase.

        Earlier keys first, the one that signs last. Raises BackupError where not every key of this desk is among them
        (an older backup, another clinic's), PassphraseError, KeyFileError, StorageError.
        """
        with opened_backup(backup, "desk", passphrase) as folder:
            theirs = Keyring(folder)
            if not theirs:
                raise BackupError(say("wrong.backup-without-key", name=backup.name), say("mend.choose-right-file"))
            if not self.identities <= theirs.identities:
                raise BackupError(say("wrong.keys-not-of-desk", name=backup.name), say("mend.backup-where-changed"))
            earlier = sorted(theirs._earlier.glob("*")) if theirs._earlier.is_dir() else []
            for path in earlier:
                write_whole(self._earlier / path.name, read_bounded(path, LARGEST_BYTES))
            write_whole(self.path, read_bounded(theirs.path, LARGEST_BYTES))

    def relock(self, old: str, new: str, hardness: Hardness, language: str) -> None:
        """Another passphrase for the same keys. Raises as `make` does; old files stay until new ones are whole."""
        for path in self._earlier_keys():
            with suppress(PassphraseError):  # a run that was cut off has locked this one anew already
                change_passphrase(path, old, new, hardness, language)
        change_passphrase(self.path, old, new, hardness, language)

    def sign(self, body: bytes, keys: ClinicKeys) -> bytes:
        """A signed order, with the line by which an earlier key vouches for this one. Raises StorageError."""
        vouched = self._kept(keys.identity, "vouched")
        return sign(body + (read_bounded(vouched, LARGEST_BYTES) if vouched.exists() else b""), keys)

    def _earlier_keys(self) -> list[Path]:
        current = self.identity.fingerprint.hex()
        return [path for path in sorted(self._earlier.glob("*.toml")) if path.stem != current]

    def _kept(self, identity: ClinicIdentity, ending: str) -> Path:
        return self._earlier / f"{identity.fingerprint.hex()}.{ending}"
