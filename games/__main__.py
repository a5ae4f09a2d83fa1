"""The command line: finds the command, runs it, and turns every error into plain lines and an exit code."""

from __future__ import annotations

import argparse
import gc
import os
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from io import TextIOWrapper
from types import ModuleType
from typing import cast

from musclewood.assets.saying import say
from musclewood.games.kit.display import has_display
from musclewood.games.kit.words import Words, told
from musclewood.games.running.errors import DONE, INPUT_WRONG, SENSOR_FAILED, CommandError
from musclewood.profiles.disk.plain_text import one_line
from musclewood.profiles.errors import HandoverError, JournalError, PrescriptionError, TrustError
from musclewood.signal.errors import RecordingError, SensorError

# Each a module of `musclewood.games.commands`, loaded only when it is called: the launcher must not wait for the
# others.
COMMANDS = (
    "demo",
    "play",
    "exchange",
    "examine",
    "check",
    "report",
    "desk",
    "backup",
    "sensors",
    "settings",
    "gallery",
)
LATE = ("pygame.surfarray", "pygame.sndarray")  # of pygame, what would load numpy before there is anything to see
MOST_LINES, LONGEST_LINE = 30, 1000  # of what is wrong; a file from anywhere could bring any number. Our choice.
INTERRUPTED = 130  # what shells expect of a program ended with Ctrl-C

EPILOG = """\
Without a command the launcher opens; with the file that the clinic sent, it opens on that.

exit codes: 0 done, 1 the input is wrong, 2 wrong usage, 3 the sensor failed

Musclewood is not a medical device. Follow your therapist; local rules and licensed practice decide. Stop on pain,
dizziness or skin reaction. Ask before use with an implanted device, in pregnancy or on broken skin.
"""


def parser(names: Sequence[str] = COMMANDS) -> argparse.ArgumentParser:
    """These commands with their options."""
    top = argparse.ArgumentParser(
        prog="musclewood",
        description="Rehabilitation exercises at home, played as games that are steered by the muscle itself.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action=_Version, nargs=0, help="show the version and leave")
    top.add_argument("--patient", metavar="CODE", help="whose day it is, where several patients share this computer")
    top.set_defaults(run=_launch, letter=None)
    commands = top.add_subparsers(title="commands", metavar="COMMAND")
    for name in names:
        import_module(f"musclewood.games.commands.{name}").add(commands)
    return top


class _Version(argparse.Action):
    """Tells the version; what knows it takes its time, so it is asked only then."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"musclewood {version('musclewood')}")
        parser.exit()


def _launch(options: argparse.Namespace) -> int:
    """The launcher. Its window opens before the rest is loaded, so that somebody sees at once that it begins."""
    if has_display():
        from musclewood.games.home.one_window import claim, knock
        from musclewood.games.kit import settings
        from musclewood.profiles.home.homes import Home

        with left_out(*LATE):
            from musclewood.games.screens.village.opening import show_evening

        options.door = claim(Home.find().root)
        if options.door is None:
            if knock(Home.find().root, options.letter):
                return DONE  # somebody who clicked twice sees the window that is there
            raise CommandError(say("command.open-already"))
        show_evening(full_screen=settings.load(Home.find().settings_path).full_screen)
        _load(*LATE, "musclewood.games.kit.paper")
        options.door.listen()
        paper = sys.modules["musclewood.games.kit.paper"]
        threading.Thread(target=paper.grain, name="grain", daemon=True).start()  # of all paper, beside what is loaded
        _load("musclewood.games.screens.window")
    from musclewood.games.commands import launcher

    return launcher.run(options)


@contextmanager
def left_out(*modules: str) -> Iterator[None]:
    """What is imported meanwhile has to do without these, which are loaded later."""
    absent = [name for name in modules if name not in sys.modules]
    sys.modules.update(dict.fromkeys(absent, cast(ModuleType, None)))
    try:
        yield
    finally:
        for name in absent:
            del sys.modules[name]


def _load(*modules: str) -> None:
    """Import them, and leave out from now on all that is loaded where Python looks for what nobody needs any more."""
    gc.disable()
    for name in modules:
        import_module(name)
    gc.freeze()
    gc.enable()


def _options(arguments: Sequence[str]) -> argparse.Namespace:
    """What was asked. Loads only the command that is named first, none for the launcher, and all to explain them."""
    if len(arguments) == 1 and arguments[0] not in COMMANDS and os.path.isfile(arguments[0]):
        return argparse.Namespace(run=_launch, patient=None, letter=arguments[0])  # somebody opened the clinic's file
    first = arguments[0] if arguments else "--patient"
    wanted = () if first in ("--patient", "--version") else (first,) if first in COMMANDS else COMMANDS
    return parser(wanted).parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code.  Wrong usage leaves through SystemExit(2), as argparse does."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")  # our output is for the patient
    # Every pixel is painted here; without a graphics card, a texture in between costs three times the processor.
    os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
    sys.modules.setdefault("pkg_resources", cast(ModuleType, None))  # pygame would load it, slowly and with a warning
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # it would look through all that is installed
    _never_stumble_over_letters()
    options = _options(sys.argv[1:] if arguments is None else arguments)
    try:
        code = int(options.run(options))
        sys.stdout.flush()
        return code
    except CommandError as error:
        return _say(*error.lines, code=error.code)
    except (PrescriptionError, RecordingError, JournalError, HandoverError, TrustError) as error:
        return _say(*error.args)
    except SensorError as error:
        return _say(told(_words(), error), code=SENSOR_FAILED)
    except KeyboardInterrupt:
        return _say(say("command.stopped"), code=INTERRUPTED)
    except BrokenPipeError:
        # Whoever read our output has seen enough; nothing may try to write to it again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except MemoryError:
        return _say(say("command.no-memory"))
    except OSError as error:
        return _say(f"{error.filename or _words()('command.this-computer')}: {error.strerror or error}")
    except Exception as error:
        if os.environ.get("MUSCLEWOOD_TRACEBACK"):
            raise
        return _say(
            say("command.went-wrong", kind=type(error).__name__, error=_one_line(error)),
            say("command.all-is-kept"),
        )


def _say(*lines: str, code: int = INPUT_WRONG) -> int:
    words = _words()
    if len(lines) > MOST_LINES:
        lines = (*lines[:MOST_LINES], say("command.more", count=len(lines) - MOST_LINES))
    for line in lines:
        print(f"musclewood: {one_line(words.said(line))[:LONGEST_LINE]}", file=sys.stderr)
    return code


def _words() -> Words:
    """In the language that this computer's user chose in the window; options, and what commands print, are English."""
    from musclewood.games.kit import settings
    from musclewood.profiles.home.homes import Home

    return Words(settings.load(Home.find().settings_path).language)


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())[:200]


def _never_stumble_over_letters() -> None:
    """A terminal that cannot show µ or ± gets a substitute, not an error."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")


if __name__ == "__main__":
    sys.exit(main())
