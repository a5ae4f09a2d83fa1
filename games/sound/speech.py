"""Reads aloud, one sentence after the other, without ever keeping the game waiting: a thread runs the system's speech.

A sentence comes 'now' (whatever is being said ends at once), 'next' (what was said before is finished, but nothing that
was only to come 'after') or 'after' (when nothing else is left to say). An engine that fails is not asked for again.
"""

from __future__ import annotations

import io
import subprocess
import sys
import threading
import wave
from collections import deque
from typing import Literal, Protocol

import numpy as np
from musclewood.games.sound.engines import Engine
from musclewood.games.sound.loudness import loudest_lufs
from musclewood.games.sound.synthesis import HIGHEST_PEAK, RATE_HZ, Samples

Manner = Literal["after", "next", "now"]
RANK: dict[Manner, int] = {"after": 0, "next": 1, "now": 2}
MOST_WAITING = 4  # of what comes after; older sentences are no longer true
SPEECH_LUFS = -17.0  # the loudest 0.4 s of a sentence: above all voices of the village; our choice
LONGEST_S = 60.0  # that a sentence may take; an engine that hangs is ended
FAILURES = 2  # in a row, and the engine is given up
LOOK_S = 0.02


class Loudspeaker(Protocol):
    """Where an engine's wave is played: `Speaker`."""

    def speak(self, samples: Samples) -> None: ...
    def stop_speaking(self) -> None: ...
    @property
    def speaking(self) -> bool: ...


class Reader:
    """Reads aloud by an engine. All calls return at once; without an engine they do nothing."""

    def __init__(self, engine: Engine | None, loudspeaker: Loudspeaker) -> None:
        self.engine = engine
        self._loudspeaker = loudspeaker
        self._changed = threading.Condition()
        self._waiting: deque[tuple[Manner, str, str]] = deque()
        self._saying: Manner | None = None
        self._turn = 0  # counts what has been ended: whoever holds an older number falls silent
        self._child: subprocess.Popen[bytes] | None = None
        self._failures = 0
        self._closed = False
        self._thread: threading.Thread | None = None

    @property
    def works(self) -> bool:
        """Whether anything can be heard, as far as is known."""
        return self.engine is not None and self._failures < FAILURES

    @property
    def busy(self) -> bool:
        with self._changed:
            return self._saying is not None or bool(self._waiting)

    def say(self, text: str, language: str, manner: Manner = "after") -> None:
        """Have a text spoken; see the module for the manner."""
        if not self.works or self._closed or not text.strip():
            return
        with self._changed:
            if manner != "after":
                self._waiting.clear()
            if self._saying is not None and (manner == "now" or RANK[manner] > RANK[self._saying]):
                self._end()
            self._waiting.append((manner, text, language))
            while len(self._waiting) > MOST_WAITING:
                self._waiting.popleft()
            self._changed.notify()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="reading aloud", daemon=True)
            self._thread.start()

    def hush(self) -> None:
        """Silence at once."""
        with self._changed:
            self._waiting.clear()
            self._end()

    def close(self) -> None:
        """Silence, and no more after it."""
        with self._changed:
            self._closed = True
            self._waiting.clear()
            self._end()
            self._changed.notify()
        if self._thread is not None:
            self._thread.join(timeout=2.0)

    def _end(self) -> None:
        """End what is being said. The lock is held."""
        self._turn += 1
        if self._child is not None:
            self._child.kill()
        self._loudspeaker.stop_speaking()
        self._changed.notify()

    # --- the thread
    def _work(self) -> None:
        while True:
            with self._changed:
                self._saying = None
                self._changed.wait_for(lambda: self._waiting or self._closed)
                if self._closed:
                    return
                self._saying, text, language = self._waiting.popleft()
                turn = self._turn
            if self._utter(text, language, turn) or turn != self._turn:
                self._failures = 0
            else:
                self._failures += 1

    def _utter(self, text: str, language: str, turn: int) -> bool:
        """One text, until it was heard or was ended. False where the engine failed."""
        engine = self.engine
        assert engine is not None
        given = subprocess.PIPE if engine.gives_wave else subprocess.DEVNULL
        unseen = getattr(subprocess, "CREATE_NO_WINDOW", 0) if sys.platform == "win32" else 0
        try:
            child = subprocess.Popen(
                engine.command(language), stdin=subprocess.PIPE, stdout=given, stderr=subprocess.DEVNULL,
                creationflags=unseen
            )  # fmt: skip
        except OSError:
            return False
        with self._changed:
            self._child = child
            if turn != self._turn:
                child.kill()
        sound, done = b"", False
        try:
            sound, _ = child.communicate(text.encode(), LONGEST_S)
            done = child.returncode == 0
        except (OSError, subprocess.TimeoutExpired):
            child.kill()
            child.communicate()
        with self._changed:
            self._child, ended = None, turn != self._turn
        if ended:
            self._silence(engine)
        elif done and engine.gives_wave:
            return self._play(sound, turn)
        return done

    def _silence(self, engine: Engine) -> None:
        """Some engines go on when only their client was ended."""
        if engine.hush:
            try:
                subprocess.run(engine.hush, capture_output=True, timeout=LONGEST_S, check=False)
            except (OSError, subprocess.SubprocessError):
                return

    def _play(self, sound: bytes, turn: int) -> bool:
        samples = levelled(sound)
        if samples is None:
            return False
        with self._changed:
            if turn != self._turn:
                return True
            self._loudspeaker.speak(samples)
            while turn == self._turn and self._loudspeaker.speaking:
                self._changed.wait(LOOK_S)
        return True


def levelled(wav: bytes) -> Samples | None:
    """A WAV of 16 bits at our rate, mono, and as loud as all speech here; None where there is no sound in it."""
    try:
        with wave.open(io.BytesIO(wav)) as opened:
            if opened.getsampwidth() != 2:
                return None
            rate_hz, channels = opened.getframerate(), opened.getnchannels()
            raw = opened.readframes(len(wav) // 2)  # a stream's header does not know its length
    except (wave.Error, EOFError):
        return None
    whole = np.frombuffer(raw[: len(raw) // (2 * channels) * 2 * channels], "<i2").reshape(-1, channels)
    if not whole.any():
        return None
    mono = whole.mean(axis=1) / 32768
    times = np.arange(round(mono.size * RATE_HZ / rate_hz)) * (rate_hz / RATE_HZ)
    sound = np.interp(times, np.arange(mono.size), mono)
    scale = 10 ** ((SPEECH_LUFS - loudest_lufs(sound, RATE_HZ)) / 20)
    return np.asarray(sound * min(scale, HIGHEST_PEAK / float(np.abs(sound).max())), np.float32)
