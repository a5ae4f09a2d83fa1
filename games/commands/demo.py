"""`musclewood demo`: the whole job with an invented patient, from the order to the report."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.kit.display import has_display
from musclewood.games.running.demonstration import Demonstration
from musclewood.games.running.errors import CommandError
from musclewood.profiles.orders.templates import template_names

FOLDER = Path("musclewood-demo")


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "demo",
        help="the whole job with an invented patient",
        description="The whole job with an invented patient and a simulated muscle: a prescription, weeks of earlier "
        "sessions, a session now (in a window where there is a display), the hand-over and the report.",
    )
    parser.add_argument("--into", type=Path, metavar="DIR", help=f"a new folder for the files (default ./{FOLDER})")
    parser.add_argument("--offscreen", action="store_true", help="without a window, even where there is a display")
    parser.add_argument("--seed", type=int, default=7, metavar="N", help="another seed, another patient (7)")
    parser.add_argument("--template", metavar="NAME", choices=template_names(), help=_templates())
    parser.set_defaults(run=run)


def _templates() -> str:
    return f"play all of this prescription template, shortened: {', '.join(template_names())}"


def run(options: argparse.Namespace) -> int:
    """Play it all.  Raises CommandError if the folder holds something already."""
    folder = options.into or _free(FOLDER)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CommandError(say("command.folder-taken", folder=folder))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CommandError(say("command.folder-unmade", folder=folder, reason=error.strerror)) from None
    demonstration = Demonstration(folder, datetime.now().astimezone(), options.seed, show, options.template)
    demonstration.order()
    demonstration.play_earlier_weeks()
    if has_display() and not options.offscreen:
        _in_window(demonstration)
    else:
        demonstration.play_now()
    demonstration.hand_over()
    return 0


def _in_window(demonstration: Demonstration) -> None:
    from musclewood.games.screens.showing import show_by_itself  # pygame takes its time; only a window needs it

    with demonstration.open_journal() as journal:
        sitting, player = demonstration.sitting(journal)
        show_by_itself(
            sitting, player, demonstration.prescription, journal, demonstration.answers(), demonstration.folder
        )


def _free(folder: Path) -> Path:
    """The folder, or the first of its numbered brothers that is not there yet."""
    number = 2
    chosen = folder
    while chosen.exists():
        chosen, number = folder.with_name(f"{folder.name}-{number}"), number + 1
    return chosen
