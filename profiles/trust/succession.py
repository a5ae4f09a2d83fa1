"""A clinic changes its key: the old key vouches for the new one, in one comment line of every order from then on.

    # musclewood-successor/1 (old public keys) (the old key's signature over the new public keys), both in base64

A home that is paired with the old key is then asked to compare the new key's words once, without anybody having to ask
for another clinic. This helps where a key is changed in good order; when it was stolen, whoever has it can vouch too,
and every patient has to pair again as with a new clinic.
"""

from __future__ import annotations

import base64
import binascii
import re

from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys

_PURPOSE = b"musclewood-successor/1\n"
_LINE = re.compile(rb"^# musclewood-successor/1 ([A-Za-z0-9+/=]{88}) ([A-Za-z0-9+/=]{88})$", re.MULTILINE)


def vouching_line(old: ClinicKeys, new: ClinicIdentity) -> bytes:
    """The line by which the old key says that the new one is the same clinic's."""
    signature = old.sign(_PURPOSE + new.joined)
    return b"# musclewood-successor/1 " + b" ".join(map(base64.b64encode, (old.identity.joined, signature))) + b"\n"


def vouched_for(body: bytes, old: ClinicIdentity, new: ClinicIdentity) -> bool:
    """Whether a signed text has the line by which `old` says that `new` is the same clinic. At
    most one is looked at."""
    line = _LINE.search(body)
    if line is None:
        return False
    try:
        said, signature = (base64.b64decode(part, validate=True) for part in line.groups())
    except binascii.Error:
        return False
    return said == old.joined and len(signature) == 64 and old.signed(_PURPOSE + new.joined, signature)
