"""`musclewood gallery`: every screen and every state of a workshop, as PNG, and what is read aloud of it."""

from __future__ import annotations

import argparse
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.kit.words import LANGUAGES
from musclewood.games.running.errors import CommandError
from musclewood.profiles.disk.files import PUBLIC, write_whole

SPOKEN = "spoken.txt"


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "gallery",
        help="every screen and game as PNG",
        description="Draw every screen and every state of the workshops as PNG, and write down what is read aloud of "
        "each; what they show is invented.",
    )
    parser.add_argument("--into", type=Path, required=True, metavar="DIR", help="the folder for the pictures")
    parser.add_argument(
        "--size", type=_size, default=(1280, 720), metavar="WxH", help="size of the pictures (1280x720)"
    )
    parser.add_argument("--language", choices=tuple(LANGUAGES), default="en", help="language of the screens (en)")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Draw them all.  Needs no display.  Raises CommandError if the folder cannot be written."""
    os.environ["SDL_VIDEODRIVER"] = "dummy"
    os.environ["SDL_AUDIODRIVER"] = "dummy"
    import pygame  # takes its time; only windows and pictures need it
    from musclewood.games.gallery.gallery import gallery
    from musclewood.games.kit.canvas import Canvas
    from musclewood.games.kit.settings import Settings

    pygame.display.init()
    surface = pygame.display.set_mode(options.size)
    spoken = []
    try:
        options.into.mkdir(parents=True, exist_ok=True)
        for name, render in gallery(replace(Settings(), language=options.language)):
            surface.fill((0, 0, 0))
            spoken.append(f"{name}: {render(Canvas(surface))}")
            pygame.image.save(surface, str(options.into / f"{name}.png"))
            show(f"{options.into / name}.png")
        write_whole(options.into / SPOKEN, "\n".join([*spoken, ""]).encode(), mode=PUBLIC)
    except (OSError, pygame.error) as error:
        reason = getattr(error, "strerror", None) or error
        raise CommandError(say("command.pictures-unwritten", into=options.into, reason=reason)) from None
    finally:
        pygame.display.quit()
    show(f"{len(spoken)} pictures, and what is read aloud of each in {options.into / SPOKEN}")
    return 0


def _size(text: str) -> tuple[int, int]:
    wide, _, high = text.lower().partition("x")
    if not (wide.isdecimal() and high.isdecimal() and 320 <= int(wide) <= 7680 and 180 <= int(high) <= 4320):
        raise argparse.ArgumentTypeError("a size is WIDTHxHEIGHT, from 320x180 to 7680x4320")
    return int(wide), int(high)
