"""`musclewood` alone: the launcher, in a window."""

from __future__ import annotations

import argparse
from pathlib import Path

from musclewood.games.errors import CommandError


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the launcher itself."""
    parser.add_argument("--home", type=Path, default=None, help=argparse.SUPPRESS)


def run(options: argparse.Namespace) -> int:
    """Open the launcher."""
    raise CommandError("there is no window yet")
