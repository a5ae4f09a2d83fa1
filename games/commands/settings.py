"""`musclewood settings`: what a reader chose for eyes, ears and hands, without the window."""

from __future__ import annotations

import argparse
from dataclasses import fields
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.kit.settings import ALLOWED, Settings, load, save
from musclewood.games.running.errors import USAGE_WRONG, CommandError
from musclewood.games.sound import engines
from musclewood.profiles.home.homes import VARIABLE, Home

ON_OFF = {"on": True, "off": False}
NAMES = tuple(field.name for field in fields(Settings) if field.name != "cautions_for")  # those are read, not set


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "settings",
        help="show or change the settings of the home",
        description="Show the settings of the home, or change some: how large, how loud, how still, read aloud or not.",
    )
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        dest="changes",
        help="such as volume=2, read_aloud=on",
    )
    parser.add_argument("--home", type=Path, metavar="DIR", help=f"folder of the home (or set {VARIABLE})")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Change, keep and show.  Raises what `__main__` turns into lines."""
    home = Home(options.home) if options.home is not None else Home.find()
    settings = load(home.settings_path)
    for change in options.changes:
        name, _, text = change.partition("=")
        settings = settings.changed(**{name: value_of(name, text)})
    if options.changes:
        home.create()
        save(settings, home.settings_path)
    for name in NAMES:
        show(f"{name} = {_told(getattr(settings, name))}  ({', '.join(map(_told, allowed(name)))})")
    engine = engines.of_this_system()
    show(f"voice to read aloud: {engine.name if engine else 'none found'}")
    return 0


def allowed(name: str) -> tuple[object, ...]:
    """The values that a setting may have."""
    return ALLOWED.get(name, tuple(ON_OFF.values()))


def value_of(name: str, text: str) -> object:
    """What `text` stands for.  Raises CommandError."""
    if name not in NAMES:
        raise CommandError(say("command.no-setting", name=name, known=", ".join(NAMES)), code=USAGE_WRONG)
    for value in allowed(name):
        if text == _told(value):
            return value
    known = ", ".join(map(_told, allowed(name)))
    raise CommandError(say("command.no-value", name=name, value=text, known=known), code=USAGE_WRONG)


def _told(value: object) -> str:
    return ("on" if value else "off") if isinstance(value, bool) else str(value)
