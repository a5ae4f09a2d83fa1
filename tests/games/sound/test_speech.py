"""Reading aloud: nobody waits for it, what says stop is heard at once, and an engine that fails stops nothing.

A small program stands in for the system's speech; the real one is asked where it is installed.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import time
import wave
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from musclewood.games.sound import engines
from musclewood.games.sound.engines import Engine, find
from musclewood.games.sound.loudness import loudest_lufs
from musclewood.games.sound.speech import FAILURES, SPEECH_LUFS, Reader, levelled
from musclewood.games.sound.synthesis import HIGHEST_PEAK, RATE_HZ

PATIENCE_S = 20.0
TALKS = """
import sys, time
text, (log, language, seconds) = sys.stdin.read(), sys.argv[1:4]
with open(log, "a") as told: told.write(f"{language}: {text}\\n")
time.sleep(float(seconds))
with open(log, "a") as told: told.write("done\\n")
"""


class Quiet:
    """A loudspeaker that keeps what it was given, and plays it until it is stopped."""

    def __init__(self, plays_s: float = 0.0) -> None:
        self.heard: list[np.ndarray] = []
        self._plays_s, self._until_s = plays_s, 0.0

    def speak(self, samples: np.ndarray) -> None:
        self.heard.append(samples)
        self._until_s = time.monotonic() + self._plays_s

    def stop_speaking(self) -> None:
        self._until_s = 0.0

    @property
    def speaking(self) -> bool:
        return time.monotonic() < self._until_s


def until(come: Callable[[], bool]) -> None:
    limit_s = time.monotonic() + PATIENCE_S
    while not come():
        assert time.monotonic() < limit_s, "it never came"
        time.sleep(0.005)


@pytest.fixture
def talker(tmp_path: Path) -> Iterator[Callable[..., tuple[Reader, Callable[[], list[str]]]]]:
    """A reader on an engine that writes down what it says; `seconds` is how long it takes."""
    log, opened = tmp_path / "said", []

    def build(seconds: float) -> tuple[Reader, Callable[[], list[str]]]:
        def command(language: str) -> list[str]:
            return [sys.executable, "-S", "-c", TALKS, str(log), language, str(seconds)]

        opened.append(Reader(Engine("talks", command), Quiet()))
        return opened[-1], lambda: log.read_text().splitlines() if log.exists() else []

    yield build
    for one in opened:
        one.close()


def test_sentences_are_said_one_after_the_other_in_their_language(talker: Callable[..., object]) -> None:
    reader, said = talker(0.0)  # type: ignore[misc]
    reader.say("Rest now.", "en")
    reader.say("Der Mond zeigt die Zeit.", "de")
    until(lambda: not reader.busy)
    assert said() == ["en: Rest now.", "done", "de: Der Mond zeigt die Zeit.", "done"]


def test_nobody_waits_and_what_says_stop_ends_what_was_said(talker: Callable[..., object]) -> None:
    reader, said = talker(30.0)  # type: ignore[misc]
    began_s = time.perf_counter()
    reader.say("A long story.", "en", "now")
    until(lambda: len(said()) == 1)
    reader.say("It goes on.", "en", "after")
    reader.say("Let go.", "en", "now")
    until(lambda: len(said()) == 2)
    assert said() == ["en: A long story.", "en: Let go."], "ended, and what waited is no longer said"
    reader.hush()
    until(lambda: not reader.busy)
    assert time.perf_counter() - began_s < PATIENCE_S


def test_the_next_sentence_waits_for_one_that_matters_and_cuts_what_was_only_to_come_after(
    talker: Callable[..., object],
) -> None:
    reader, said = talker(0.3)  # type: ignore[misc]
    reader.say("Hold.", "en", "next")
    until(lambda: len(said()) == 1)
    for text in ("More.", "Less."):
        reader.say(text, "en", "next")
    until(lambda: not reader.busy)
    assert said() == ["en: Hold.", "done", "en: Less.", "done"], "only the newest is still true"
    reader.say("Three of five are made.", "en", "after")
    until(lambda: len(said()) == 5)
    reader.say("Now.", "en", "next")
    until(lambda: not reader.busy)
    assert said()[4:] == ["en: Three of five are made.", "en: Now.", "done"]


@pytest.mark.parametrize("command", [["no-such-program-here"], [sys.executable, "-S", "-c", "raise SystemExit(1)"]])
def test_an_engine_that_fails_is_given_up(command: list[str]) -> None:
    reader = Reader(Engine("broken", lambda language: command), Quiet())
    for _ in range(FAILURES):
        assert reader.works
        reader.say("Is anybody there?", "en")
        until(lambda: not reader.busy)
    until(lambda: not reader.works)
    reader.say("Nothing happens.", "en")
    assert not reader.busy
    reader.close()


def test_without_speech_nothing_happens() -> None:
    reader = Reader(None, Quiet())
    reader.say("Silence.", "en", "now")
    assert not reader.works and not reader.busy
    reader.hush()
    reader.close()


def wav_of(sound: np.ndarray, rate_hz: int, channels: int = 1) -> bytes:
    kept = io.BytesIO()
    with wave.open(kept, "wb") as written:
        written.setnchannels(channels)
        written.setsampwidth(2)
        written.setframerate(rate_hz)
        written.writeframes(np.repeat((sound * 32767).astype("<i2")[:, None], channels, axis=1).tobytes())
    return kept.getvalue()


@pytest.mark.parametrize(("rate_hz", "channels", "level"), [(22050, 1, 0.9), (16000, 1, 0.01), (48000, 2, 0.2)])
def test_speech_comes_out_as_loud_as_ever_at_any_rate(rate_hz: int, channels: int, level: float) -> None:
    tone = level * np.sin(2 * np.pi * 500 * np.arange(rate_hz) / rate_hz)
    made = levelled(wav_of(tone, rate_hz, channels))
    assert made is not None
    assert made.size == pytest.approx(RATE_HZ, abs=2)
    assert loudest_lufs(made, RATE_HZ) == pytest.approx(SPEECH_LUFS, abs=0.1)
    assert np.argmax(np.abs(np.fft.rfft(made))) == pytest.approx(500, abs=1)


@pytest.mark.parametrize("wav", [b"", b"RIFF", b"no sound at all", wav_of(np.zeros(100), 22050)])
def test_what_is_no_sound_is_none(wav: bytes) -> None:
    assert levelled(wav) is None


HERE = find() if sys.platform.startswith("linux") else None


@pytest.mark.skipif(HERE is None or not HERE.gives_wave, reason="espeak-ng is not installed")
def test_the_systems_own_speech_says_our_sentences_in_both_languages() -> None:
    """Another language is another sound, a longer sentence takes longer, and all of it is over
    when it is said to be."""
    made = {}
    for language, text in (("en", "The kiln awaits you today."), ("de", "The kiln awaits you today."), ("en", "Stop.")):
        loudspeaker = Quiet()
        reader = Reader(HERE, loudspeaker)
        reader.say(text, language, "now")
        until(lambda: not reader.busy)  # noqa: B023
        reader.close()
        assert reader.works
        made[language, text] = loudspeaker.heard[0]
    long, german, short = made.values()
    assert 0.8 < long.size / RATE_HZ < 5.0 and short.size < 0.6 * long.size
    assert long.size != german.size
    assert loudest_lufs(long, RATE_HZ, 300.0) > SPEECH_LUFS - 3.0
    assert np.abs(long).max() <= HIGHEST_PEAK + 1e-6


@pytest.mark.skipif(HERE is None or not HERE.gives_wave, reason="espeak-ng is not installed")
def test_a_sentence_that_is_played_ends_when_another_is_due() -> None:
    loudspeaker = Quiet(plays_s=60.0)
    reader = Reader(HERE, loudspeaker)
    reader.say("This one would go on for a minute.", "en", "now")
    until(lambda: loudspeaker.speaking)
    reader.say("Let go.", "en", "now")
    assert not loudspeaker.speaking, "silent in the same moment"
    until(lambda: len(loudspeaker.heard) == 2)
    reader.close()
    assert not loudspeaker.speaking


class TestFinding:
    """Which speech is called, on which system; nothing of it is run here."""

    def which(self, *there: str) -> Callable[[str], str | None]:
        return lambda name: f"/usr/bin/{name}" if name in there else None

    def test_none(self) -> None:
        for platform in ("linux", "darwin", "win32"):
            assert find(platform, self.which(), lambda command: "") is None

    def test_linux_prefers_what_gives_its_sound_to_us(self) -> None:
        both, service = find("linux", self.which("espeak-ng", "spd-say")), find("linux", self.which("spd-say"))
        assert both is not None and both.gives_wave and "de" in both.command("de")
        assert service is not None and not service.gives_wave
        assert service.hush, "its client's end does not end the sentence"

    def test_macos_speaks_with_a_voice_of_the_language(self) -> None:
        table = "Anna   de_DE  # Hallo!\nSam (Old) en_US # Hello\nEva  de_DE # Tag"
        engine = find("darwin", self.which("say"), lambda command: table)
        assert engine is not None
        assert engine.command("de")[1:3] == ["-v", "Anna"]
        assert engine.command("en")[1:3] == ["-v", "Sam (Old)"]
        assert "-v" not in engine.command("fr")

    def test_windows_names_the_language_and_reads_the_text_from_its_input(self) -> None:
        engine = find("win32", self.which("powershell"))
        assert engine is not None
        script = engine.command("de")[-1]
        assert "GetCultureInfo('de')" in script and "{" in script and "{{" not in script

    def test_a_program_that_cannot_be_asked_has_no_voices(self) -> None:
        assert engines._answer(["no-such-program-here"]) == ""


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_the_text_never_becomes_an_option_or_a_command() -> None:
    engine = find("linux")
    assert engine is not None
    for text in ("--version", "$(date)", "; ls", "-v xx"):
        done = subprocess.run(engine.command("en"), input=text.encode(), capture_output=True, check=False)
        assert done.returncode == 0 and done.stdout.startswith(b"RIFF")
