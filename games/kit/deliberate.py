"""What counts as an answer: only a deliberate act, by whatever device.  Pure; every screen goes through here.

A contraction answers only while the reader lets the muscle choose, and then only if it is a fresh one: it began from
rest after the page could be read, it was let go in time, and what it chose is not closed to muscles. Hands have to wait
out the second half of a double click where a wrong answer would matter.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from musclewood.games.kit.controls import Act, Intent

# 175 words a minute: "for silent reading of English non-fiction most adults fall in the range of 175 to 300"
# (Brysbaert 2019, Journal of Memory and Language 109, 104047). We take the slow end, since children and the old
# read more slowly than the average.
WORDS_PER_MINUTE = 175.0
FINDING_S = 1.0  # to find where to begin to read; our choice
HAND_S = 0.5  # our choice: computers take two clicks within half a second for one double click


def reading_s(words: int) -> float:
    """How long a slow reader needs for so many words, s."""
    return FINDING_S + 60.0 * words / WORDS_PER_MINUTE


@dataclass(frozen=True)
class Asked:
    """What is asked now.

    what: the same as long as the same thing is asked; another value has to be read anew. words: how many there are to
    read, None while nothing has been shown. closed: choices that a contraction never makes, such as going on after a
    stop. careful: a second press of a hand must not answer what the first one brought up.
    """

    what: Hashable
    words: int | None
    closed: frozenset[str] = frozenset()
    careful: bool = False


def counts(intent: Intent, asked: Asked, shown_s: float, key: str = "") -> bool:
    """Whether an intent may act on a page that has been shown for `shown_s`; `key` is what it would choose."""
    if intent.device == "muscle":
        return key not in asked.closed and intent.act in (Act.NEXT, Act.CHOOSE)
    return not asked.careful or intent.act not in (Act.CHOOSE, Act.PRESS, Act.BACK) or shown_s >= HAND_S


class MuscleChooser:
    """A short contraction moves on, a long one chooses when it is let go, so that a session needs no hands.

    `held_share` (0-1) fills up to the long one for all to see. One that is held for longer than anybody holds to answer
    is a cramp, or work, and answers nothing. Durations are our choice: a relaxed quick squeeze stays below half a
    second; twitches of a resting muscle last no tenth of one.
    """

    short_s = 0.15
    long_s = 1.2
    longest_s = 4.0
    quiet_s = 0.4

    def __init__(self) -> None:
        self.forget()

    @property
    def ready(self) -> bool:
        """Whether a contraction that began now would be an answer."""
        return self._ready

    @property
    def read(self) -> bool:
        """Whether there was time to read what is asked."""
        return self._read

    @property
    def held_share(self) -> float:
        return min(1.0, self._held_s / self.long_s) if self._ready and self._held_s <= self.longest_s else 0.0

    def forget(self) -> None:
        """Nothing is asked of the muscle now; whatever is asked next is new."""
        self._what: Hashable = None
        self._shown_s = self._quiet_s = self._held_s = 0.0
        self._ready = self._read = False

    def step(self, asked: Asked, contracting: bool, dt_s: float) -> list[Intent]:
        """What the last `dt_s` seconds of muscle ask for."""
        if asked.what != self._what:
            self.forget()
            self._what = asked.what
        if asked.words is None:
            return []
        self._shown_s += dt_s
        self._read = self._shown_s >= reading_s(asked.words)
        if contracting:
            self._quiet_s = 0.0
            self._held_s += dt_s if self._ready else 0.0
            return []
        self._quiet_s += dt_s
        held_s, self._held_s = self._held_s, 0.0
        if held_s > 0.0:  # every contraction needs a rest of its own before it
            self._ready = False
        if self._quiet_s >= self.quiet_s and self._read:
            self._ready = True
        return self._meant(held_s)

    def _meant(self, held_s: float) -> list[Intent]:
        if held_s < self.short_s or held_s > self.longest_s:
            return []
        return [Intent(Act.CHOOSE if held_s >= self.long_s else Act.NEXT, "muscle")]
