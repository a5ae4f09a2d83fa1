"""`musclewood backup` and `musclewood desk backup`: everything in one sealed file, checked, and put back elsewhere."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from musclewood.games.commands.asking import add_passphrase_option, passphrase
from musclewood.games.commands.printing import show
from musclewood.games.running.errors import DONE
from musclewood.profiles.home.homes import VARIABLE, Home
from musclewood.profiles.trust.backup import Kind, make_backup, restore_backup, verify_backup

Root = Callable[[argparse.Namespace], Path]


def add(commands: Any) -> None:
    """Describe the home's command to argparse."""
    parser = commands.add_parser(
        "backup",
        help="copy all of a home into one sealed file, or put it back",
        description="Copy everything at home (plans, journals, pairing, settings) into one file that a "
        "passphrase opens.",
    )
    parser.add_argument("--home", type=Path, metavar="DIR", help=f"folder with the patient's files (or set {VARIABLE})")
    add_ways(parser, "home", lambda options: (Home(options.home) if options.home else Home.find()).root)


def add_ways(parser: argparse.ArgumentParser, kind: Kind, root: Root) -> None:
    """make, verify and restore, for a home or a desk."""
    ways = parser.add_subparsers(title="commands", metavar="make|verify|restore", required=True)
    for name, told, run in (
        ("make", "copy everything into one sealed file", _make),
        ("verify", "open all of it and check it; nothing is changed", _verify),
        ("restore", "put it where there is nothing yet, on a new computer", _restore),
    ):
        way = ways.add_parser(name, help=told)
        way.add_argument("file", type=Path, metavar="FILE", help="the backup")
        add_passphrase_option(way, default="the backup's passphrase (default: ask)")
        way.set_defaults(run=_bound(run, kind, root))


def _bound(run: Callable[[argparse.Namespace, Kind, Path], int], kind: Kind, root: Root) -> Any:
    return lambda options: run(options, kind, root(options))


def _make(options: argparse.Namespace, kind: Kind, root: Path) -> int:
    held = make_backup(root, options.file, kind, passphrase(options, new=True))
    verify_note = "check it with 'verify', keep it in another place, and its passphrase somewhere else"
    show(f"backup: {options.file} ({held.files} files, {held.bytes / 1e6:.1f} MB); {verify_note}")
    return DONE


def _verify(options: argparse.Namespace, kind: Kind, root: Path) -> int:
    held = verify_backup(options.file, passphrase(options))
    show(f"{options.file}: fine, a {held.kind} with {held.files} files, {held.bytes / 1e6:.1f} MB")
    return DONE


def _restore(options: argparse.Namespace, kind: Kind, root: Path) -> int:
    held = restore_backup(options.file, root, kind, passphrase(options))
    show(f"restored: {root} ({held.files} files)")
    if kind == "home":
        show("This computer sends as a new one: the clinic will ask for its words once ('musclewood exchange').")
    return DONE
