"""Sound: in tune, low, without clicks; silent where there is no loudspeaker; never a reason to stop."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pygame
import pytest
from musclewood.games.kit.settings import LOUDEST, VOLUMES
from musclewood.games.sound import speaker as sound
from musclewood.games.sound.speaker import AHEAD_S, DUCKED, RING, Speaker, gain_of
from musclewood.games.sound.synthesis import (
    HIGHEST_PEAK,
    RATE_HZ,
    SCALE,
    DroneTone,
    bell,
    drone_hz,
    note_hz,
    phrase,
    sigh,
)
from musclewood.games.workshops import SILENT, Drone, SoundCue, workshops


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def speaker() -> Iterator[tuple[Speaker, Clock]]:
    clock = Clock()
    speaker = Speaker(clock=clock)
    yield speaker, clock
    speaker.close()


def pitch_of(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(samples.size), 1 << 18))
    return float(np.argmax(spectrum) * RATE_HZ / (1 << 18))


def test_notes_are_those_of_one_pentatonic_scale() -> None:
    steps = [round(12 * np.log2(note_hz(degree) / note_hz(0))) for degree in range(11)]
    assert steps == [*SCALE, *(12 + step for step in SCALE), 24]
    assert note_hz(-5) == pytest.approx(note_hz(0) / 2)


@pytest.mark.parametrize("degree", range(6))
def test_a_bell_sounds_its_own_note(degree: int) -> None:
    assert pitch_of(bell(degree)[:RATE_HZ]) == pytest.approx(note_hz(degree + 5), rel=0.005)


def test_every_voice_is_low_and_ends_in_silence() -> None:
    kiln = workshops()["kiln"].voices()
    for made in [bell(0), phrase(0), sigh(0), *(voice() for voice in kiln.values())]:
        assert 0.02 < np.abs(made).max() <= HIGHEST_PEAK
        assert abs(made[-1]) < 1e-3
        assert abs(made[0]) < 0.02


def test_the_drone_rises_with_effort_all_the_way() -> None:
    pitches = [drone_hz(height) for height in np.linspace(0, 2, 41)]
    assert (np.diff(pitches) > 0).all()
    assert drone_hz(1.0) == pytest.approx(note_hz(3), rel=1e-6)  # on target it is a note of the scale
    tone = DroneTone()
    tone.make(4410, 1.0, 0.5, 0.0, 0.0)
    assert pitch_of(tone.make(RATE_HZ, 1.0, 0.5, 0.0, 0.0)) == pytest.approx(drone_hz(0.5), rel=0.005)


def test_the_drone_has_no_seams_and_stays_low() -> None:
    tone, chance = DroneTone(), np.random.default_rng(1)
    pieces = [tone.make(int(chance.integers(200, 1500)), 1.0, float(h), 0.0, 0.0) for h in np.linspace(0, 1.4, 60)]
    whole = np.concatenate(pieces)
    within = max(np.abs(np.diff(piece)).max() for piece in pieces)
    at_seams = max(abs(b[0] - a[-1]) for a, b in pairwise(pieces))
    assert at_seams <= within * 1.05
    assert np.abs(whole).max() < 0.3


def test_the_band_can_be_heard_apart_from_too_much() -> None:
    def sounded(accord: float, breath: float) -> np.ndarray:
        tone = DroneTone()
        tone.make(4410, 1.0, 1.0, accord, breath)
        return np.abs(np.fft.rfft(tone.make(RATE_HZ, 1.0, 1.0, accord, breath)))

    within, beyond = sounded(1.0, 0.0), sounded(0.0, 1.0)
    assert within[round(note_hz(5))] > 20 * beyond[round(note_hz(5))]
    assert beyond[1200:4000].mean() > 20 * within[1200:4000].mean()


def test_the_drone_is_written_ahead_of_the_loudspeaker(speaker: tuple[Speaker, Clock]) -> None:
    player, clock = speaker
    if player.silent:
        pytest.skip("no mixer here, not even a dummy one")
    for _ in range(200):
        player.drone(Drone(1.0, 1.0, 0.0, 0.0))
        clock.now += 0.016
    loop = pygame.sndarray.samples(player._ring)
    read = round((clock.now - 0.016) * RATE_HZ)
    ahead = loop[np.arange(read, read + round(0.9 * AHEAD_S * RATE_HZ)) % RING].astype(int)
    assert np.abs(ahead).max() > 1000
    assert np.abs(np.diff(ahead)).max() < 1200  # one unbroken tone


def test_rest_is_silence(speaker: tuple[Speaker, Clock]) -> None:
    player, clock = speaker
    if player.silent:
        pytest.skip("no mixer here, not even a dummy one")
    for _ in range(20):
        player.drone(Drone(1.0, 1.0))
        clock.now += 0.016
    assert pygame.mixer.Channel(0).get_busy()
    for _ in range(40):
        player.drone(SILENT)
        clock.now += 0.016
    assert player._ring is None


def test_cues_play_and_unknown_ones_are_passed_over(speaker: tuple[Speaker, Clock]) -> None:
    player, _ = speaker
    player.learn(workshops()["kiln"].voices())
    for cue in (SoundCue("bell", 3), SoundCue("clay"), SoundCue("crackle", 2, 0.4), SoundCue("no such voice")):
        player.play(cue)
    player.hush()


def everything(player: Speaker) -> None:
    player.learn(workshops()["kiln"].voices())
    player.play(SoundCue("bell"))
    player.drone(Drone(1.0, 1.0))
    player.hush()
    player.close()


@pytest.mark.parametrize(
    "failure", [pygame.error("no audio device"), NotImplementedError("mixer module not available")]
)
def test_a_mixer_that_cannot_open_stops_nothing(monkeypatch: pytest.MonkeyPatch, failure: Exception) -> None:
    def fail(*_args: object, **_named: object) -> None:
        raise failure

    monkeypatch.setattr(sound.pygame.mixer, "init", fail)
    player = Speaker()
    assert player.silent
    everything(player)


def test_sound_off_never_opens_the_mixer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sound, "_open_mixer", lambda: pytest.fail("opened"))
    everything(Speaker(gain=0.0))


@pytest.mark.parametrize("volume", VOLUMES)
def test_a_step_of_the_volume_is_four_decibels_and_none_is_silence(volume: int) -> None:
    gain = gain_of(volume, LOUDEST)
    assert gain == (pytest.approx(10 ** (-4 * (LOUDEST - volume) / 20)) if volume else 0.0)


def test_the_volume_turns_what_sounds_and_can_be_turned_up_from_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[bool] = []
    really = sound._open_mixer
    monkeypatch.setattr(sound, "_open_mixer", lambda: opened.append(True) or really())
    player = Speaker(gain=0.0)
    player.play(SoundCue("bell"))
    assert player.silent and not opened
    player.set_gain(0.5)
    if player.silent:
        pytest.skip("no mixer here, not even a dummy one")
    player.drone(Drone(1.0, 1.0))
    assert pygame.mixer.Channel(0).get_volume() == pytest.approx(0.5, abs=0.01)
    player.speak(np.full(RATE_HZ, 0.1, np.float32))
    player.drone(Drone(1.0, 1.0))
    assert pygame.mixer.Channel(0).get_volume() == pytest.approx(0.5 * DUCKED, abs=0.01), "it makes room for words"
    player.stop_speaking()
    assert not player.speaking
    player.close()
    assert len(opened) == 1


def test_speech_is_heard_where_sounds_are_off() -> None:
    player = Speaker(gain=0.0)
    player.speak(np.full(RATE_HZ, 0.1, np.float32))
    if not player._open:
        pytest.skip("no mixer here, not even a dummy one")
    assert player.speaking and player.silent
    player.close()


def test_a_device_that_rests_is_opened_again_by_the_next_sound() -> None:
    player = Speaker()
    if player.silent:
        pytest.skip("no mixer here, not even a dummy one")
    player.play(SoundCue("bell"))
    player.rest()
    assert pygame.mixer.get_init(), "a bell that rings is not cut short"
    player.hush()
    player.rest()
    player.drone(SILENT)
    assert not pygame.mixer.get_init(), "silence needs no device"
    player.play(SoundCue("bell"))
    assert pygame.mixer.get_busy()
    player.close()


def test_only_the_voices_of_two_workshops_are_kept() -> None:
    player = Speaker()
    if player.silent:
        pytest.skip("no mixer here, not even a dummy one")
    own = {
        name: {f"{name}-{number}": (lambda: sigh(0)) for number in range(2)} for name in ("first", "second", "third")
    }
    for name, voices in own.items():
        player.learn(voices)
        player.play(SoundCue(f"{name}-0"))
    player._join()
    kept = {voice for voice, _ in player._sounds}
    assert not kept & own["first"].keys() and own["second"].keys() <= kept and own["third"].keys() <= kept
    player.close()
