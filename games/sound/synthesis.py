"""The village's sounds, made from sines and noise. Pure numpy: every voice is a function that returns samples.

Samples are float32 in -1..1, mono, at RATE_HZ. All notes belong to one pentatonic scale, so that whatever sounds
together is in tune.
"""

from __future__ import annotations

from functools import cached_property, lru_cache

import numpy as np
from musclewood.games.sound.loudness import SMALL_HZ, loudest_lufs, share_heard
from numpy.typing import NDArray

RATE_HZ = 44100
ROOT_HZ = 146.83  # D3: warm, and still heard from a small laptop loudspeaker
VOICE_LUFS = -21.0  # the loudest 0.4 s of every voice: low, since somebody at rest should not be startled; our choice
HIGHEST_PEAK = 0.6
CARRIED_LU = 1.0  # so much less may be left of a voice on a small loudspeaker; our choice
SCALE = (0, 2, 4, 7, 9)  # semitones of the major pentatonic
Samples = NDArray[np.float32]


def note_hz(degree: int) -> float:
    """Frequency of a step of the scale; 0 is the root, 5 the octave above, negative steps lie below."""
    octave, step = divmod(degree, len(SCALE))
    return float(ROOT_HZ * 2.0 ** (octave + SCALE[step] / 12.0))


def times(length_s: float) -> NDArray[np.float64]:
    return np.arange(round(length_s * RATE_HZ)) / RATE_HZ


def fade(sound: NDArray[np.float64], attack_s: float, release_s: float) -> NDArray[np.float64]:
    """Smooth ends, so that nothing clicks."""
    ends = np.ones(sound.size)
    rise, fall = min(round(attack_s * RATE_HZ), sound.size), min(round(release_s * RATE_HZ), sound.size)
    ends[:rise] *= np.sin(np.linspace(0, np.pi / 2, rise)) ** 2
    ends[sound.size - fall :] *= np.cos(np.linspace(0, np.pi / 2, fall)) ** 2
    return sound * ends


@lru_cache(maxsize=16)
def noise(length_s: float, low_hz: float, high_hz: float, seed: int) -> NDArray[np.float64]:
    """Noise between two frequencies, with a standard deviation of 1; not to be changed, since it is kept."""
    size = round(length_s * RATE_HZ)
    raw = np.fft.rfft(np.random.default_rng(seed).standard_normal(size))
    hz = np.maximum(np.fft.rfftfreq(size, 1 / RATE_HZ), 1e-9)
    # A Butterworth band-pass of second order, as its gain at every frequency.
    off_centre = (hz**2 - low_hz * high_hz) / (hz * (high_hz - low_hz))
    band = np.fft.irfft(raw / np.sqrt(1.0 + off_centre**4), size)
    band /= band.std() + 1e-12
    band.setflags(write=False)
    return np.asarray(band)


def forget_parts() -> None:
    """Let go of what voices were made from: ten megabytes that only the making of others would need."""
    noise.cache_clear()
    share_heard.cache_clear()


def finish(sound: NDArray[np.float64]) -> Samples:
    """As loud as every other voice, with enough above 300 Hz for the loudspeaker of a laptop."""
    carried = _carried(sound)
    scale = 10 ** ((VOICE_LUFS - loudest_lufs(carried, RATE_HZ)) / 20)
    top = float(np.abs(carried).max()) or 1.0
    return (carried * min(scale, HIGHEST_PEAK / top)).astype(np.float32)


def _carried(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    """With overtones of what is too low for a small loudspeaker, from which an ear makes out
    the low tone all the same."""
    whole, above = loudest_lufs(sound, RATE_HZ), loudest_lufs(sound, RATE_HZ, SMALL_HZ)
    if above >= whole - CARRIED_LU:
        return sound
    hz = np.fft.rfftfreq(2 * sound.size, 1 / RATE_HZ)
    low = np.fft.irfft(np.fft.rfft(sound, 2 * sound.size) / (1 + (hz / 400) ** 6), 2 * sound.size)
    low = low / (float(np.abs(low).max()) or 1.0)
    bent = np.tanh(3 * low) + 0.8 * low**2 - 0.5 * low**4  # odd and even ones
    kept = (hz > SMALL_HZ) / (1 + (hz / 1800) ** 4)
    overtones = np.fft.irfft(np.fft.rfft(bent) * kept, 2 * sound.size)[: sound.size]
    overtones = fade(overtones, 0.002, min(0.05, sound.size / RATE_HZ / 4))
    wanted, there, more = (10 ** (lufs / 10) for lufs in (whole - CARRIED_LU, above, loudest_lufs(overtones, RATE_HZ)))
    return np.asarray(sound + overtones * np.sqrt((wanted - there) / more))


# --- voices of the whole village -------------------------------------------------------------------------------------
def bell(degree: int) -> Samples:
    """A fired pot, tapped: a warm struck note whose upper partials are gone first."""
    t, hz = times(1.8), note_hz(degree + 5)
    partials = ((1.0, 1.0, 3.0), (2.0, 0.35, 5.0), (2.76, 0.22, 9.0), (5.4, 0.1, 18.0))
    sound = sum(level * np.sin(2 * np.pi * hz * ratio * t) * np.exp(-decay * t) for ratio, level, decay in partials)
    return finish(fade(np.asarray(sound), 0.004, 0.3))


def phrase(degree: int) -> Samples:
    """Four notes that come home; for a finished set."""
    steps, gap_s = (0, 2, 3, 5), 0.26
    sound = np.zeros(round((gap_s * len(steps) + 1.9) * RATE_HZ))
    for number, step in enumerate(steps):
        struck = bell(degree + step)
        start = round(number * gap_s * RATE_HZ)
        sound[start : start + struck.size] += struck
    return finish(sound)


def sigh(degree: int) -> Samples:
    """A breath; for a rep that was not made. Neither praise nor blame."""
    t = times(0.7)
    swell = np.sin(np.pi * np.clip(t / 0.7, 0, 1)) ** 2
    return finish(noise(0.7, 250, 900, 3 + degree) * swell)


def begin(degree: int) -> Samples:
    """Two wooden notes that rise: now."""
    return _two_notes(degree + 5, degree + 7)


def let_go(degree: int) -> Samples:
    """The same two, falling: enough."""
    return _two_notes(degree + 7, degree + 5)


def _two_notes(first: int, second: int) -> Samples:
    sound = np.zeros(round(0.6 * RATE_HZ))
    for start_s, degree in ((0.0, first), (0.16, second)):
        t, hz = times(0.4), note_hz(degree)
        note = sum(
            level * np.sin(2 * np.pi * hz * n * t) * np.exp(-(6 + 4 * n) * t) for n, level in ((1, 1.0), (4, 0.4))
        )
        start = round(start_s * RATE_HZ)
        sound[start : start + t.size] += fade(np.asarray(note), 0.004, 0.1)
    return finish(sound)


# --- the drone -------------------------------------------------------------------------------------------------------
class DroneTone:
    """The tone of effort, made piece by piece; pitch and loudness glide, and pieces join without a seam."""

    # Rich enough to be heard from a small loudspeaker at any height, an octave below its lowest tone too.
    PARTIALS = (0.8, 0.55, 0.35, 0.2, 0.12, 0.07)  # how strong the fundamental is, and its overtones in their order

    def __init__(self) -> None:
        self._hiss_at = 0
        self.restart()

    @cached_property
    def hiss(self) -> NDArray[np.float64]:
        """The breath in it. Takes a moment to make, so whoever has the time asks for it before it sounds."""
        return noise(2.0, 900, 4200, 9)

    def restart(self) -> None:
        """Begin from silence."""
        self._phase = 0.0
        self._chord_phase = np.zeros(2)
        self._level = self._hz = self._accord = self._breath = 0.0

    def make(self, count: int, level: float, height: float, accord: float, breath: float) -> Samples:
        """The next `count` samples. See `Drone` in games/workshops for the arguments; it never gets louder than about
        0.25."""
        share = np.linspace(0.0, 1.0, count)
        level_now, hz_now = self._ramp("_level", level, share), self._ramp("_hz", drone_hz(height), share)
        accord_now, breath_now = self._ramp("_accord", accord, share), self._ramp("_breath", breath, share)
        phase = self._phase + np.cumsum(hz_now) * (2 * np.pi / RATE_HZ)
        self._phase = float(phase[-1] % (2 * np.pi)) if count else self._phase
        turning = np.exp(1j * phase)  # of which each overtone is a power
        tone = np.zeros(count, np.complex128)
        for strength in reversed(self.PARTIALS):
            tone = (tone + strength) * turning
        chord = np.zeros(count)
        for voice, degree in enumerate((5, 8)):
            turn = self._chord_phase[voice] + np.arange(1, count + 1) * (2 * np.pi * note_hz(degree) / RATE_HZ)
            self._chord_phase[voice] = turn[-1] % (2 * np.pi) if count else self._chord_phase[voice]
            chord += np.sin(turn) if accord_now.any() else 0.0
        hiss = np.take(self.hiss, np.arange(self._hiss_at, self._hiss_at + count), mode="wrap")
        self._hiss_at = (self._hiss_at + count) % self.hiss.size
        mixed = level_now * (
            0.062 * tone.imag * (1 - 0.5 * breath_now) + 0.026 * accord_now * chord + 0.03 * breath_now * hiss
        )
        return np.clip(mixed, -0.9, 0.9).astype(np.float32)

    def _ramp(self, name: str, goal: float, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """From where a value stands to its goal, as `share` grows over this piece; afterwards it stands there."""
        start = getattr(self, name) or (goal if name == "_hz" else 0.0)
        setattr(self, name, goal)
        return start + (goal - start) * share


def drone_hz(height: float) -> float:
    """Pitch of an effort given as a multiple of the target: a fifth above the root on target, an octave and a half
    at twice the target, rising all the way, so that the ear alone can find the band."""
    semitones = float(np.interp(height, (0.0, 1.0, 2.0), (-5.0, 7.0, 19.0)))
    return float(ROOT_HZ * 2.0 ** (semitones / 12.0))
