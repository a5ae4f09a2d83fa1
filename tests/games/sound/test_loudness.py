"""Every workshop and every voice is about as loud as any other, for a meter that is not ours.

Source: ITU-R BS.1770-5 (loudness, annex 1; true peak, annex 2), as pyloudnorm measures it. The bounds are our choice: 2
LU between workshops, 8 LU between voices that are heard in turn, -1 dBTP (the last: EBU R 128).
"""

from __future__ import annotations

import importlib.util
from functools import cache
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np
import pyloudnorm
import pytest
from musclewood.games.sound import loudness
from musclewood.games.sound.speaker import VILLAGE
from musclewood.games.sound.synthesis import RATE_HZ, VOICE_LUFS, DroneTone
from musclewood.games.workshops import workshops

EVERY = tuple(workshops())
AT_THE_EDGES = ("hide", "kiln", "rose_window")  # the sparsest, the fullest, the one with the highest peaks
SECONDS, FULL_SECONDS = 30.0, 90.0  # too short, and one attempt more or less is heard


@cache
def bench() -> ModuleType:
    """The benchmark that prints these figures."""
    path = Path(__file__).parents[2] / "bench" / "loudness.py"
    spec = importlib.util.spec_from_file_location("musclewood_bench_loudness", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("rate_hz", [44100, 48000])
@pytest.mark.parametrize("tone_hz", [60.0, 997.0, 5000.0])
def test_our_loudness_is_that_of_the_meter(rate_hz: int, tone_hz: float) -> None:
    tone = 0.1 * np.sin(2 * np.pi * tone_hz * np.arange(rate_hz) / rate_hz)
    meter = pyloudnorm.Meter(rate_hz).integrated_loudness(np.stack([tone, tone], axis=1))
    assert loudness.loudest_lufs(tone, rate_hz) == pytest.approx(meter, abs=0.1)


def test_a_997_hz_tone_at_full_scale_in_one_channel_reads_as_the_standard_says() -> None:
    """-3.01 LKFS (BS.1770-5, annex 1); both our channels play it, which is 3.01 more."""
    tone = np.sin(2 * np.pi * 997.0 * np.arange(2 * 48000) / 48000)
    assert loudness.loudest_lufs(tone, 48000) == pytest.approx(0.0, abs=0.05)


@pytest.mark.full_size
def test_workshops_are_alike_and_nothing_is_cut_off(full: bool) -> None:
    lufs = {}
    for name in EVERY if full else AT_THE_EDGES:
        sound, voices = bench().heard(name, FULL_SECONDS if full else SECONDS)
        lufs[name] = bench().whole_lufs(sound)
        assert bench().true_peak_db(sound) < -1.0, name
        for small in (False, True) if full else ():
            told = {voice: bench().loudest_lufs(one, small=small) for voice, one in voices.items()}
            assert max(told.values()) - min(told.values()) <= 8.0, (name, small, told)
    print({name: round(value, 1) for name, value in lufs.items()})
    assert max(lufs.values()) - min(lufs.values()) <= 2.0, lufs


VOICES = [*((name, voice) for name in EVERY for voice in workshops()[name].voices()), *(("", one) for one in VILLAGE)]


@pytest.mark.parametrize(("name", "voice"), VOICES)
def test_every_voice_is_levelled_and_carried_by_a_small_loudspeaker(name: str, voice: str) -> None:
    made = workshops()[name].voices()[voice]() if name else VILLAGE[voice](0)
    assert bench().loudest_lufs(made) == pytest.approx(VOICE_LUFS, abs=0.7)
    assert bench().loudest_lufs(made, small=True) > VOICE_LUFS - 5.0


@pytest.mark.parametrize("height", [0.5, 0.75, 1.0, 1.5])
def test_the_tone_of_effort_is_carried_too(height: float) -> None:
    tone = DroneTone().make(2 * RATE_HZ, 1.0, height, 0.0, 0.0)[RATE_HZ // 2 :]
    assert bench().loudest_lufs(tone, small=True) > bench().loudest_lufs(tone) - 8.0


@pytest.mark.parametrize("name", EVERY)
def test_begin_let_go_and_missed_are_told_apart_by_ear(name: str) -> None:
    """By what sounds for each, and by how it is spread over thirds of an octave: no two alike."""
    begins, lets_go, missed = bench().signals(name)
    assert begins and lets_go
    spectra = [_thirds(bench().mixed(name, cues)) for cues in (begins, lets_go, missed) if cues]
    for n, one in enumerate(spectra):
        for other in spectra[n + 1 :]:
            assert np.abs(one - other).mean() > 3.0, "dB a third, on average"


def _thirds(sound: np.ndarray) -> np.ndarray:
    """Level of each third of an octave from 200 Hz to 8 kHz relative to the loudest, dB, not below -40."""
    power, hz = np.abs(np.fft.rfft(sound)) ** 2, np.fft.rfftfreq(sound.size, 1 / RATE_HZ)
    edges = 200 * 2 ** (np.arange(17) / 3)
    levels = [10 * np.log10(power[(hz >= a) & (hz < b)].sum() + 1e-12) for a, b in pairwise(edges)]
    return np.maximum(np.array(levels) - max(levels), -40.0)
