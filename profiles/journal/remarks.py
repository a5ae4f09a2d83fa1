"""What a journal has to say about itself: codes. What a person reads of them stands in the report's catalogues.

Journals and hand-overs keep each as an English sentence, as they always did; it is written and read here alone.
"""

from __future__ import annotations

import re
from enum import StrEnum


class JournalRemark(StrEnum):
    """A key under `remark` in the report's catalogues."""

    OUT_OF_ORDER = "out-of-order"
    CHANGED = "changed"
    SET_ASIDE = "set-aside"


_WRITTEN = {
    JournalRemark.OUT_OF_ORDER: "session {session}: it does not follow the session closed before it",
    JournalRemark.CHANGED: "session {session}: it was changed after it was closed",
    JournalRemark.SET_ASIDE: "a damaged journal was set aside as {name}",
}
# A notice carries the moment at which it was written.
_MOMENT = r"(?:(?P<at>[-\d]{10}T[^ ]+): )?"
_KEPT = {
    code: re.compile(_MOMENT + re.sub(r"\\{(\w+)\\}", r"(?P<\1>.+)", re.escape(sentence)))
    for code, sentence in _WRITTEN.items()
}


def written(code: JournalRemark, **values: object) -> str:
    return _WRITTEN[code].format(**values)


def kept(sentence: str) -> tuple[JournalRemark, dict[str, str]] | None:
    """The code of a sentence that was kept, with what it names; None for one that is not known."""
    for code, pattern in _KEPT.items():
        if found := pattern.fullmatch(sentence):
            return code, {name: value for name, value in found.groupdict().items() if value is not None}
    return None
