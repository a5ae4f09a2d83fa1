"""A sealed hand-over: one file that only the clinic can open, and that says in itself whose it is.

    musclewood-sealed-handover/1 to 0f1e2d3c4b5a69788796 with 48213 bytes      (the clinic's fingerprint; what follows)
    ...SealedBox (Curve25519, XSalsa20-Poly1305)...

Inside the seal lies a header (patient, number, sender, clinic, size and digest of the payload), the sender's Ed25519
signature over it, and the payload. A SealedBox alone says nothing about who made it, and the clinic's public key is in
every prescription; the signature is what makes a hand-over of another patient or another computer, or one sent twice,
show. The clinic is part of what is signed, so that nobody can pass a hand-over on under a seal of their own.

Pure: bytes in, bytes out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from hashlib import blake2b
from typing import Annotated, Literal

from musclewood.assets.saying import say
from musclewood.profiles.clinic_code import CLINIC_CODE
from musclewood.profiles.errors import AnotherKeyError, DamagedFileError, IncompleteFileError
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys
from nacl.exceptions import BadSignatureError, CryptoError
from nacl.signing import SigningKey, VerifyKey
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

LARGEST_BYTES = 32 << 20  # measured: two years of daily sessions take 2.4 MB; our choice
_PURPOSE = b"musclewood-sealed-handover/1 header\n"
_LABEL = re.compile(rb"musclewood-sealed-handover/1 to ([0-9a-f]{20}) with ([1-9][0-9]{0,9}) bytes\n")
_LABEL_START = b"musclewood-sealed-handover/"
_SIGNATURE_BYTES = 64

Hex32 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Header(BaseModel):
    """What a hand-over says about itself under its sender's signature."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    format: Literal["musclewood-handover-header/1"] = "musclewood-handover-header/1"
    patient: Annotated[str, Field(pattern=f"^{CLINIC_CODE.pattern}$")]
    sequence: Annotated[int, Field(ge=1)]  # counts up for one patient on one computer
    sender: Hex32  # the public key of that patient on that computer
    clinic: Annotated[str, Field(pattern=r"^[0-9a-f]{128}$")]
    made: AwareDatetime
    payload_bytes: Annotated[int, Field(ge=0)]
    payload_digest: Hex32


@dataclass(frozen=True)
class OpenedHandover:
    """A hand-over that was opened and whose sender's signature fits."""

    header: Header
    payload: bytes


def seal(
    payload: bytes, *, patient: str, sequence: int, sender: SigningKey, clinic: ClinicIdentity, made: datetime
) -> bytes:
    """The sealed file. Raises ValueError for a payload that is too large, a naive time or a code that is none."""
    if len(payload) > LARGEST_BYTES - 10_000:
        raise ValueError(f"a hand-over of {len(payload)} bytes is too large")
    header = Header(
        patient=patient,
        sequence=sequence,
        sender=bytes(sender.verify_key).hex(),
        clinic=clinic.joined.hex(),
        made=made,
        payload_bytes=len(payload),
        payload_digest=digest_of(payload),
    )
    line = header.model_dump_json().encode() + b"\n"
    sealed = clinic.seal(line + sender.sign(_PURPOSE + line).signature + payload)
    label = f"musclewood-sealed-handover/1 to {clinic.fingerprint.hex()} with {len(sealed)} bytes\n"
    return label.encode() + sealed


def unseal(content: bytes, keys: ClinicKeys) -> OpenedHandover:
    """Open a sealed file and check everything it says about itself.

    Raises IncompleteFileError, AnotherKeyError, DamagedFileError.
    """
    label = _LABEL.match(content)
    if label is None:
        if len(content) < 100 and _LABEL_START.startswith(content[: len(_LABEL_START)]):
            raise IncompleteFileError(say("wrong.hand-over-only-begun"), say("mend.wait-copy-finish-copy"))
        raise DamagedFileError(say("wrong.no-sealed-hand-over"), say("mend.choose-right-file-copy"))
    sealed, size = content[label.end() :], int(label[2])
    if len(sealed) < size:
        problem = say("wrong.only-hand-over-bytes", count=len(sealed), size=size)
        raise IncompleteFileError(problem, say("mend.wait-copy-finish-copy"))
    own = next((one for one in (keys, *keys.earlier) if one.identity.fingerprint.hex() == label[1].decode()), None)
    if own is None:
        raise AnotherKeyError(say("wrong.hand-over-sealed-another"), say("mend.open-key-made"))
    plain = own.unseal(sealed) if len(sealed) == size else None
    opened = _taken_apart(plain, own.identity) if plain is not None else None
    if opened is None:
        raise DamagedFileError(say("wrong.hand-over-changed-after"), say("mend.copy-again-where-made"))
    return opened


def looks_complete(content: bytes) -> bool:
    """Whether a sealed file is as long as it says; whether it can be opened is another matter."""
    label = _LABEL.match(content)
    return label is not None and len(content) - label.end() == int(label[2])


def mark_of(sealed: bytes) -> str:
    """16 hexadecimal digits that tell sealed files apart, for their names."""
    return blake2b(sealed, digest_size=8).hexdigest()


def digest_of(payload: bytes) -> str:
    """BLAKE2b, 64 hexadecimal digits."""
    return blake2b(payload, digest_size=32).hexdigest()


def _taken_apart(plain: bytes, clinic: ClinicIdentity) -> OpenedHandover | None:
    line, newline, rest = plain.partition(b"\n")
    signature, payload = rest[:_SIGNATURE_BYTES], rest[_SIGNATURE_BYTES:]
    try:
        header = Header.model_validate_json(line)
        VerifyKey(bytes.fromhex(header.sender)).verify(_PURPOSE + line + newline, signature)
    except (ValidationError, BadSignatureError, CryptoError, ValueError):
        return None
    fits = (
        header.clinic == clinic.joined.hex()
        and header.payload_bytes == len(payload)
        and header.payload_digest == digest_of(payload)
    )
    return OpenedHandover(header, payload) if fits else None
