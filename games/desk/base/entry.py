"""A line that somebody types into: what it takes, how long it may get, whether it is shown. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

MASK = "•"
CODE = r"[A-Za-z]{0,4}|[A-Za-z]{2,4}-?[0-9]{0,5}"  # every beginning of a clinic code, and nothing else
VALUE = r"[0-9A-Za-z.,: -]*"  # numbers, dates, days, on and off
PASSPHRASE = r"[^\x00-\x1f\x7f]*"


@dataclass
class Entry:
    """`takes` must match the whole text after every stroke; a stroke that would break it does nothing."""

    takes: str = VALUE
    longest: int = 40
    masked: bool = False
    text: str = field(default="", repr=False)

    def type(self, letters: str) -> bool:
        """Add what was typed. False if it is not taken."""
        grown = self.text + letters
        if len(grown) > self.longest or not re.fullmatch(self.takes, grown):
            return False
        self.text = grown
        return True

    def erase(self) -> None:
        self.text = self.text[:-1]

    def clear(self) -> None:
        self.text = ""

    @property
    def shown(self) -> str:
        return MASK * len(self.text) if self.masked else self.text


def code_of(text: str) -> str:
    """What was typed as a clinic code: capitals, and the hyphen that people leave out."""
    capital = text.strip().upper()
    found = re.fullmatch(r"([A-Z]{2,4})([0-9]+)", capital)
    return f"{found[1]}-{found[2]}" if found else capital
