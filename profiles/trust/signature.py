"""The signature on a prescription file: a comment line at its top, and a block of comment lines at its very end.

    # musclewood-signed/1 at its end, 0003912 bytes in all
    ...the prescription, readable TOML...
    # musclewood-signature/1 over 3488 bytes
    # clinic 9f0c... (128 hexadecimal digits: the public signing and sealing keys)
    # signature 41d2... (128 hexadecimal digits)

Inside the file and not beside it, because two files part company: a memory stick takes one of them, a sync tool brings
the second an hour after the first, a mail program renames both. As comments the block leaves the file what it was,
TOML that a person and any parser can read. It also ends the file, and the first line says so and how long the file is:
a half-copied one shows by itself and is never taken for an unsigned order. Files of earlier versions have no such line.

The signature covers the exact bytes before the block, and the clinic's keys. Nothing is parsed before it has been
verified.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import blake2b

from musclewood.assets.saying import say
from musclewood.profiles.errors import DamagedFileError, IncompleteFileError
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys

LARGEST_BYTES = 1_010_000  # a prescription has less than 1 MB
DIGEST_BYTES = 32
_PURPOSE = b"musclewood-signature/1 prescription\n"
_BLOCK = re.compile(
    rb"# musclewood-signature/1 over ([1-9][0-9]{0,6}) bytes\n# clinic ([0-9a-f]{128})\n# signature ([0-9a-f]{128})\n\Z"
)
_HEADER = re.compile(rb"^(?:\xef\xbb\xbf)?# musclewood-signed/1 at its end, ([0-9]{7}) bytes in all\n")
# Also a header that something was put before, or that lost a part, says that this was signed.
_HEADER_TRACE = re.compile(rb"^[^\n]{0,9}# musclewood-signed", re.MULTILINE)
_BLOCK_BYTES = 350  # the longest block, with some room
# What is left when a block was damaged in one place; a file with any of it near its end is no unsigned file.
_TRACE = re.compile(rb"musclewood-signature|^# clinic [0-9a-f]{8}|^# signature [0-9a-f]{8}|[0-9a-f]{100}", re.MULTILINE)


@dataclass(frozen=True)
class VerifiedFile:
    """A file's bytes without header and block; `clinic` is who signed them, None for an unsigned file."""

    body: bytes
    clinic: ClinicIdentity | None

    @property
    def digest(self) -> str:
        """BLAKE2b of the body, 64 hexadecimal digits."""
        return blake2b(self.body, digest_size=DIGEST_BYTES).hexdigest()


def sign(content: bytes, keys: ClinicKeys) -> bytes:
    """The file with the clinic's block at its end; a block that was there before is replaced.

    Raises ValueError for a text that has traces of a block in it, or that is too large.
    """
    body = content[: block.start()] if (block := _block(content)) else content
    body = _HEADER.sub(b"", body)
    if not body.endswith(b"\n"):
        body += b"\n"
    if _TRACE.search(body) or _HEADER_TRACE.search(body):
        raise ValueError("the text already has parts of a signature in it; remove them before signing")
    if len(body) > LARGEST_BYTES - _BLOCK_BYTES:
        raise ValueError(f"the text has {len(body)} bytes, which is too large to sign")
    body = _header(0) + body
    body = _header(len(body) + len(_lines(body, keys))) + body[len(_header(0)) :]
    return body + _lines(body, keys)


def _header(size: int) -> bytes:
    return f"# musclewood-signed/1 at its end, {size:07d} bytes in all\n".encode()


def _lines(body: bytes, keys: ClinicKeys) -> bytes:
    lines = (
        f"# musclewood-signature/1 over {len(body)} bytes",
        f"# clinic {keys.identity.joined.hex()}",
        f"# signature {keys.sign(_message(body, keys.identity)).hex()}",
    )
    return "".join(f"{line}\n" for line in lines).encode()


def verify(content: bytes) -> VerifiedFile:
    """Who signed a file, and what. That the signer is the right one is not known here, only that the file is theirs.

    Raises DamagedFileError when there is a signature, or a part of one, that does not fit the file, and
    IncompleteFileError for a part of a file that was signed.
    """
    header, block = _HEADER.match(content), _block(content)
    if block is None:
        if _TRACE.search(content):
            raise DamagedFileError(say("wrong.prescription-signature-not-whole"), say("mend.copy-file-again-ask"))
        if header or _HEADER_TRACE.search(content):
            size = f" of {int(header[1])}" if header else ""
            raise IncompleteFileError(
                say("wrong.only-part-signed-prescription", count=len(content), size=size),
                say("mend.copy-file-again-ask"),
            )
        return VerifiedFile(content, None)
    body = content[: block.start()]
    clinic = ClinicIdentity.from_bytes(bytes.fromhex(block[2].decode()))
    signature = bytes.fromhex(block[3].decode())
    if int(block[1]) != len(body) or not clinic.signed(_message(body, clinic), signature):
        problem = say("wrong.prescription-changed-after-signed")
        raise DamagedFileError(problem, say("mend.copy-file-again-ask"))
    return VerifiedFile(_HEADER.sub(b"", body), clinic)


def looks_complete(content: bytes) -> bool:
    """Whether a file ends in a whole signature block for as many bytes as came before it."""
    block = _block(content)
    return block is not None and int(block[1]) == block.start()


def _block(content: bytes) -> re.Match[bytes] | None:
    return _BLOCK.search(content, max(0, len(content) - _BLOCK_BYTES))


def _message(body: bytes, clinic: ClinicIdentity) -> bytes:
    return _PURPOSE + clinic.joined + body
