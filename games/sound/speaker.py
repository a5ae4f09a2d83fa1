"""The loudspeaker, which may be missing: nothing here ever raises because of sound.

The drone lies in one looping second of sound. Each frame writes the next few hundredths just ahead of where the
loudspeaker reads, so pitch can follow effort without a seam, and a late frame repeats a little instead of clicking.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Protocol

import numpy as np
import pygame
from musclewood.games.sound.synthesis import (
    RATE_HZ,
    DroneTone,
    Samples,
    begin,
    bell,
    forget_parts,
    let_go,
    phrase,
    sigh,
)
from numpy.typing import NDArray

BUFFER = 512
RING = RATE_HZ  # samples in the drone's loop
AHEAD_S = 0.09  # how far the drone is written ahead: longer than a slow frame and the loudspeaker's own buffer
CHANNELS = 12
DRONE, SPEECH = 0, 1  # channels of their own
STEP_DB = 4.0  # between two steps of the volume: clearly another, and four of them are enough for a room; our choice
DUCKED = 0.35  # of what else sounds is left while somebody is spoken to, so that words are understood; our choice

Voice = Callable[[], Samples]


class Cue(Protocol):
    """A sound to begin: `SoundCue` of a workshop."""

    @property
    def voice(self) -> str: ...
    @property
    def degree(self) -> int: ...
    @property
    def gain(self) -> float: ...


class Tone(Protocol):
    """What the drone sounds: `Drone` of a workshop."""

    @property
    def level(self) -> float: ...
    @property
    def height(self) -> float: ...
    @property
    def accord(self) -> float: ...
    @property
    def breath(self) -> float: ...


VILLAGE: Mapping[str, Callable[[int], Samples]] = {
    "bell": bell,
    "phrase": phrase,
    "sigh": sigh,
    "begin": begin,
    "let_go": let_go,
}


def gain_of(volume: int, loudest: int) -> float:
    """What a step of the volume leaves of every sound; 0 is silence, `loudest` is as the voices were made."""
    return 10 ** ((volume - loudest) * STEP_DB / 20) if volume > 0 else 0.0


class Speaker:
    """Plays cues, the drone, and what is spoken. Without a sound device it is silent and all calls still work.

    The device is opened when something is to be heard, and closed by `rest`: while it is open it wakes the computer
    ninety times a second. `gain` is the volume, for all but speech; with 0 only speech opens it.
    clock: seconds, for the drone's place; only tests pass another.
    """

    def __init__(self, gain: float = 1.0, clock: Callable[[], float] = time.perf_counter) -> None:
        self._clock = clock
        self._open = self._failed = False
        self._gain = 0.0
        self._spoken_gain = 1.0
        self._voices: dict[str, Voice] = {}  # of the workshop of now, and of the one before it, which may ring on
        self._learnt: Mapping[str, Voice] = {}
        self._sounds: dict[tuple[str, int], pygame.mixer.Sound | None] = {}
        self._making: threading.Thread | None = None
        self._tone = DroneTone()
        self._ring: pygame.mixer.Sound | None = None
        self._began_s = 0.0
        self._written = 0  # samples of drone written since it began
        self._quiet_s = 0.0
        self.set_gain(gain)

    def set_gain(self, gain: float) -> None:
        """Louder or softer from now on."""
        self._gain, self._spoken_gain = gain, gain or self._spoken_gain
        if gain == 0 and self._open:
            self.hush()

    @property
    def silent(self) -> bool:
        """Whether nothing but speech can be heard."""
        return self._gain == 0 or not self._begin_to_sound()

    def _begin_to_sound(self) -> bool:
        """Open the device, once; a device that is not there is not asked for again."""
        if not self._open and not self._failed:
            self._open = _open_mixer()
            self._failed = not self._open
        return self._open

    def learn(self, voices: Mapping[str, Voice]) -> None:
        """Add a workshop's own voices, and make them and the village's in a thread, so that none is late."""
        self._voices, self._learnt = {**self._learnt, **voices}, voices
        known = (self._voices.keys() - voices.keys()) | VILLAGE.keys()
        self._sounds = {key: sound for key, sound in self._sounds.items() if key[0] in known}
        if not self.silent:
            wanted = [(voice, 0) for voice in (*voices, "sigh", "phrase")] + [("bell", degree) for degree in range(6)]
            self._join()
            self._making = threading.Thread(target=self._make_ready, args=(wanted,), name="voices", daemon=True)
            self._making.start()

    def play(self, cue: Cue) -> None:
        """Begin a sound; an unknown voice is passed over."""
        sound = None if self.silent else self._sound(cue.voice, cue.degree)
        channel = pygame.mixer.find_channel() if sound else None
        if sound and channel:
            channel.set_volume(min(max(cue.gain, 0.0), 1.0) * self._loudness)
            channel.play(sound)

    def drone(self, tone: Tone) -> None:
        """Call once a frame with the effort of now; level 0 fades it out and frees the loudspeaker."""
        if (tone.level <= 0.0 and self._ring is None) or self.silent:
            return
        now = self._clock()
        if tone.level > 0.0:
            self._quiet_s = now
            if self._ring is None:
                self._begin(now)
        if self._ring is None:
            return
        if now - self._quiet_s > 0.4:
            self._end()
            return
        pygame.mixer.Channel(DRONE).set_volume(self._loudness)
        wanted = round((now - self._began_s + AHEAD_S) * RATE_HZ)
        self._write(min(wanted - self._written, RING // 2), tone)

    def hush(self) -> None:
        """Silence at once, for a pause or the stop."""
        if self._open:
            pygame.mixer.stop()
            self._ring = None

    # --- what is spoken; called by the thread that reads aloud
    def speak(self, samples: Samples) -> None:
        """Begin to play speech; what else sounds becomes softer until it ends."""
        if self._begin_to_sound():
            channel = pygame.mixer.Channel(SPEECH)
            channel.set_volume(self._spoken_gain)
            channel.play(pygame.mixer.Sound(buffer=_whole(samples).tobytes()))

    def stop_speaking(self) -> None:
        if self._open:
            pygame.mixer.Channel(SPEECH).stop()

    @property
    def speaking(self) -> bool:
        return self._open and bool(pygame.mixer.Channel(SPEECH).get_busy())

    @property
    def _loudness(self) -> float:
        """Of what is not spoken, now."""
        return self._gain * (DUCKED if self.speaking else 1.0)

    def rest(self) -> None:
        """Close the device as soon as nothing sounds any more; what is heard next opens it again."""
        if self._open and not pygame.mixer.get_busy():
            self.close()

    def close(self) -> None:
        if self._open:
            self._open, self._ring = False, None
            self._join()  # a sound must not be made while the mixer goes away
            self._sounds = {}
            pygame.mixer.quit()

    # --- the drone's loop ----------------------------------------------------------------------------------------
    def _begin(self, now: float) -> None:
        self._tone.restart()
        self._ring = pygame.mixer.Sound(buffer=bytes(RING * 2))
        self._began_s, self._written = now, 0
        pygame.mixer.Channel(DRONE).set_volume(self._loudness)
        pygame.mixer.Channel(DRONE).play(self._ring, loops=-1)

    def _end(self) -> None:
        pygame.mixer.Channel(DRONE).fadeout(60)
        self._ring = None

    def _write(self, count: int, tone: Tone) -> None:
        """Put the next samples into the loop that is playing."""
        if count <= 0 or self._ring is None:
            return
        made = _whole(self._tone.make(count, tone.level, tone.height, tone.accord, tone.breath))
        loop = pygame.sndarray.samples(self._ring)
        places = np.arange(self._written, self._written + count) % RING
        loop[places] = made
        self._written += count

    def _join(self) -> None:
        if self._making:
            self._making.join()

    def _make_ready(self, wanted: list[tuple[str, int]]) -> None:
        _ = self._tone.hiss
        for voice, degree in wanted:
            if self._open:
                self._sound(voice, degree)
        forget_parts()

    def _sound(self, voice: str, degree: int) -> pygame.mixer.Sound | None:
        key = (voice, degree)
        if key not in self._sounds:
            own, villages = self._voices.get(voice), VILLAGE.get(voice)
            made = _made(own) if own else _made(villages, degree) if villages else None
            self._sounds[key] = pygame.mixer.Sound(buffer=made) if made else None
        return self._sounds[key]


@lru_cache(maxsize=64)
def _made(voice: Callable[..., Samples], *degree: int) -> bytes:
    """As it is played; kept, since the same workshop is entered again and again."""
    return _whole(voice(*degree)).tobytes()


def _open_mixer() -> bool:
    """Whether there is a sound device and it takes our format."""
    try:
        pygame.mixer.init(RATE_HZ, -16, 1, BUFFER, allowedchanges=0)
        pygame.mixer.set_num_channels(CHANNELS)
        pygame.mixer.set_reserved(2)
    except (pygame.error, NotImplementedError):  # the latter where SDL_mixer itself is missing
        return False
    return True


def _whole(samples: Samples) -> NDArray[np.int16]:
    """(n,) floats as 16-bit samples: everything sounds in the middle, so one channel is enough for both ears."""
    return np.clip(samples * 32767, -32768, 32767).astype(np.int16)
