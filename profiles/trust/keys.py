"""The clinic's key pair: one secret root, from which the signing key and the sealing key both follow.

Ed25519 signs prescriptions; Curve25519 opens hand-overs. The two are separate keys derived from one root with BLAKE2b
under different labels, so that there is one thing to keep, and neither key is ever used for the other's work.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b

from nacl.exceptions import BadSignatureError, CryptoError
from nacl.public import PrivateKey, PublicKey, SealedBox
from nacl.signing import SigningKey, VerifyKey

ROOT_BYTES = 32
IDENTITY_BYTES = 64
# 80 bits: to make another key with the same words, 2^80 key pairs would have to be tried. Our choice, as ten words are
# about as many as two people will really compare. Two keys with equal words that one clinic makes on purpose gain it
# nothing.
FINGERPRINT_BYTES = 10


@dataclass(frozen=True)
class ClinicIdentity:
    """The public half: what everybody may know. `signing` and `sealing` are the two public keys, 32 bytes each."""

    signing: bytes
    sealing: bytes

    @classmethod
    def from_bytes(cls, joined: bytes) -> ClinicIdentity:
        """From the 64 bytes that `joined` gives. Raises ValueError."""
        if len(joined) != IDENTITY_BYTES:
            raise ValueError(f"an identity has {IDENTITY_BYTES} bytes, got {len(joined)}")
        return cls(joined[:32], joined[32:])

    @property
    def joined(self) -> bytes:
        return self.signing + self.sealing

    @property
    def fingerprint(self) -> bytes:
        """Ten bytes that stand for both public keys."""
        return blake2b(self.joined, digest_size=FINGERPRINT_BYTES, person=b"mw-fingerprint").digest()

    def signed(self, message: bytes, signature: bytes) -> bool:
        """Whether this clinic signed exactly this message."""
        try:
            VerifyKey(self.signing).verify(message, signature)
        except (BadSignatureError, CryptoError, ValueError):
            return False
        return True

    def seal(self, plain: bytes) -> bytes:
        """Encrypt so that only this clinic can open it, not even its maker. Raises ValueError for a bad key."""
        try:
            return SealedBox(PublicKey(self.sealing)).encrypt(plain)
        except CryptoError as error:
            raise ValueError("this sealing key cannot be used") from error


@dataclass(frozen=True)
class ClinicKeys:
    """The private half. Its root never appears in a representation, a message or an unlocked file.

    `earlier` are keys that this one took the place of; they still open what was sealed to them.
    """

    root: bytes
    earlier: tuple[ClinicKeys, ...] = ()

    def __post_init__(self) -> None:
        if len(self.root) != ROOT_BYTES:
            raise ValueError(f"a root has {ROOT_BYTES} bytes")

    def __repr__(self) -> str:
        return f"ClinicKeys(fingerprint={self.identity.fingerprint.hex()})"

    @classmethod
    def new(cls) -> ClinicKeys:
        return cls(secrets.token_bytes(ROOT_BYTES))

    @cached_property
    def identity(self) -> ClinicIdentity:
        return ClinicIdentity(bytes(self._signing_key.verify_key), bytes(self._sealing_key.public_key))

    def sign(self, message: bytes) -> bytes:
        """A 64-byte Ed25519 signature."""
        return self._signing_key.sign(message).signature

    def unseal(self, sealed: bytes) -> bytes | None:
        """What was sealed to this clinic; None when it was not, or when one bit of it has changed."""
        try:
            return SealedBox(self._sealing_key).decrypt(sealed)
        except (CryptoError, ValueError):
            return None

    @property
    def _signing_key(self) -> SigningKey:
        return SigningKey(self._derived(b"mw-signing"))

    @property
    def _sealing_key(self) -> PrivateKey:
        return PrivateKey(self._derived(b"mw-sealing"))

    def _derived(self, label: bytes) -> bytes:
        return blake2b(key=self.root, digest_size=32, person=label).digest()
