"""Computers whose words were compared with the patient in the room: what they send later is taken without a question.

One small file, replaced in one step. Whoever could write there could also write what was received; it is closed to
others as the whole folder is.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from pathlib import Path

from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import StorageError
from musclewood.profiles.exchange.reception import ConfirmSender, NewSender
from musclewood.profiles.trust.keys import FINGERPRINT_BYTES
from musclewood.profiles.trust.words import TELLING_LETTERS, word_list

LARGEST_BYTES = 1_000_000
WORDS = FINGERPRINT_BYTES  # a word stands for a byte


def read_words(typed: str) -> tuple[tuple[str, ...], str]:
    """What somebody typed as words of the list, of which the first three letters do; and the first that is none of
    them, '' where all are."""
    found: list[str] = []
    for heard in re.findall(r"[^\W\d_]+", typed.lower()):
        meant = [word for word in word_list() if len(heard) >= TELLING_LETTERS and word.startswith(heard)]
        if not meant:
            return tuple(found), heard
        found.append(meant[0])
    return tuple(found), ""


class ExpectedComputers:
    """By patient, the words of each computer. A file that cannot be read expects nobody: then the question is asked."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def add(self, patient: str, words: Sequence[str]) -> None:
        """This computer belongs to this patient. Raises StorageError."""
        if len(words) != WORDS:
            raise ValueError(f"a computer has {WORDS} words, not {len(words)}")
        known = self._read()
        if list(words) not in known.get(patient, []):
            known.setdefault(patient, []).append(list(words))
            write_whole(self._path, (json.dumps(known, indent=1, sort_keys=True) + "\n").encode())

    def knows(self, sender: NewSender) -> bool:
        return list(sender.words) in self._read().get(sender.patient, [])

    def or_ask(self, confirm: ConfirmSender) -> ConfirmSender:
        """A question that is asked only about those that nobody expects."""
        return lambda sender: self.knows(sender) or confirm(sender)

    def _read(self) -> dict[str, list[list[str]]]:
        try:
            found = json.loads(read_bounded(self._path, LARGEST_BYTES))
            return {str(code): [[str(word) for word in words] for words in each] for code, each in found.items()}
        except (StorageError, OSError, ValueError, TypeError, AttributeError):
            return {}
