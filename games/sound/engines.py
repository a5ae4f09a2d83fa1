"""The speech that a system brings, each as a program that is called once a sentence and ended when it must be silent.

None is part of this program, and none is linked into it: some are under licences of their own, so the user's own is
called. The text goes in by standard input, never through a shell.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

WORDS_PER_MINUTE = 150  # calm; common practice for listeners who are old or learn, no source
ASKED_S = 5.0  # for a program to say which voices it has

Run = Callable[[list[str]], str]


@dataclass(frozen=True)
class Engine:
    """command: what to run to have a language spoken. gives_wave: it writes a WAV to its standard output, which our own
    loudspeaker plays; else it is heard by itself. hush: what to run once it has been ended, to stop what it started."""

    name: str
    command: Callable[[str], list[str]]
    gives_wave: bool = False
    hush: tuple[str, ...] = ()


def _espeak(program: str) -> Engine:
    def command(language: str) -> list[str]:
        return [program, "-v", language, "-s", str(WORDS_PER_MINUTE), "-b", "1", "--stdin", "--stdout"]

    return Engine("espeak-ng", command, gives_wave=True)


def _dispatcher(program: str) -> Engine:
    """The desktop's speech service. Ending its client does not end the sentence; `hush` does."""

    def command(language: str) -> list[str]:
        return [program, "--application-name", "musclewood", "--wait", "--pipe-mode", "--language", language]

    return Engine("speech-dispatcher", command, hush=(program, "--cancel"))


def _say(program: str, voices: str) -> Engine:
    """Of macOS; its table has a line a voice: name, language, example."""
    by_language = dict(reversed([_voice_of(line) for line in voices.splitlines() if "_" in line or "-" in line]))

    def command(language: str) -> list[str]:
        voice = by_language.get(language)
        return [program, *(["-v", voice] if voice else []), "-r", str(WORDS_PER_MINUTE), "-f", "-"]

    return Engine("say", command)


def _voice_of(line: str) -> tuple[str, str]:
    words = line.partition("#")[0].split()
    return (words[-1][:2], " ".join(words[:-1])) if words else ("", "")


# Of Windows: SAPI by way of .NET. A language without a voice is spoken by the usual one.
SAPI = """
Add-Type -AssemblyName System.Speech
[Console]::InputEncoding = [Text.Encoding]::UTF8
$voice = New-Object System.Speech.Synthesis.SpeechSynthesizer
try {{ $voice.SelectVoiceByHints('NotSet', 'NotSet', 0, [Globalization.CultureInfo]::GetCultureInfo('{language}')) }} catch {{}}
$voice.Rate = -1
$voice.Speak([Console]::In.ReadToEnd())
"""  # noqa: E501  it is read line by line


def _sapi(program: str) -> Engine:
    def command(language: str) -> list[str]:
        return [program, "-NoProfile", "-NonInteractive", "-Command", SAPI.format(language=language)]

    return Engine("sapi", command)


def _answer(command: list[str]) -> str:
    """What a program says about itself; '' where it does not answer."""
    try:
        return subprocess.run(command, capture_output=True, text=True, timeout=ASKED_S, check=False).stdout
    except (OSError, subprocess.SubprocessError):
        return ""


def find(
    platform: str = sys.platform, which: Callable[[str], str | None] = shutil.which, ask: Run = _answer
) -> Engine | None:
    """The speech of this system; None where there is none.

    A program that gives its sound to us comes first: it keeps the volume, and other sounds can make room for it.
    """
    if platform == "win32":
        return _sapi(program) if (program := which("powershell")) else None
    if platform == "darwin":
        return _say(program, ask([program, "-v", "?"])) if (program := which("say")) else None
    if program := which("espeak-ng"):
        return _espeak(program)
    return _dispatcher(program) if (program := which("spd-say")) else None


@cache
def of_this_system() -> Engine | None:
    """Looked for once."""
    return find()
