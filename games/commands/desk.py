"""`musclewood desk`: the clinic's side, in a window or command by command."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands import bench, desk_work, visits
from musclewood.games.commands.asking import add_passphrase_option
from musclewood.games.commands.backup import add_ways
from musclewood.games.commands.changing import add_changes
from musclewood.games.kit.display import has_display
from musclewood.games.running.errors import CommandError
from musclewood.profiles.clinic.clinic import VARIABLE, Clinic
from musclewood.profiles.orders.templates import template_names


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "desk",
        help="the clinic's side: prescribe, sign, read what comes back",
        description="The therapist's desk. Alone it opens a window; with one of its own commands it needs none.",
    )
    parser.add_argument("--desk", type=Path, metavar="DIR", help=f"the desk's folder (or set {VARIABLE})")
    parser.set_defaults(run=_open_window)
    own = parser.add_subparsers(title="commands of the desk", metavar="COMMAND")
    _add_key(own)
    _add_settings(own)
    _add_prescribe(own)
    _add_reading(own)
    visits.add_ways(own, desk_of)
    bench.add_ways(own, desk_of)
    backup = own.add_parser("backup", help="copy the whole desk into one sealed file, check it, or put it back")
    add_ways(backup, "desk", lambda options: options.desk or Clinic.find().root)


def desk_of(options: argparse.Namespace) -> Clinic:
    """The desk that was named, or the usual one."""
    clinic = Clinic(options.desk) if options.desk is not None else Clinic.find()
    clinic.start()
    return clinic


def _open_window(options: argparse.Namespace) -> int:
    if not has_display():
        raise CommandError(say("command.no-display-desk"))
    from musclewood.games.desk.app import run_desk  # pygame takes its time; only a window needs it

    run_desk(desk_of(options))
    return 0


def _add_key(own: Any) -> None:
    key = own.add_parser("key", help="the clinic's key", description="Make the clinic's key, or show its words.")
    which = key.add_subparsers(title="commands", metavar="new|show|relock|change|take", required=True)
    new = which.add_parser("new", help="make a key, locked with a passphrase")
    add_passphrase_option(new)
    new.set_defaults(run=lambda options: desk_work.new_key(desk_of(options), options))
    relock = which.add_parser("relock", help="lock the same key with another passphrase")
    add_passphrase_option(relock)
    add_passphrase_option(relock, "--new-passphrase-file", "the new passphrase (default: ask)")
    relock.set_defaults(run=lambda options: desk_work.relock_key(desk_of(options), options))
    change = which.add_parser("change", help="a new key that the old one vouches for; patients compare its words once")
    add_passphrase_option(change)
    change.set_defaults(run=lambda options: desk_work.change_key(desk_of(options), options))
    take = which.add_parser("take", help="the keys of the clinic's other desk, from its backup")
    take.add_argument("file", type=Path, metavar="BACKUP", help="made there with 'desk backup make'")
    add_passphrase_option(take, default="the backup's passphrase (default: ask)")
    take.set_defaults(run=lambda options: desk_work.take_keys(desk_of(options), options))
    shown = which.add_parser("show", help="the words that patients compare; no passphrase is needed")
    shown.set_defaults(run=lambda options: desk_work.show_key(desk_of(options)))


def _add_settings(own: Any) -> None:
    settings = own.add_parser("settings", help="show the desk's settings, or change them")
    settings.add_argument("--clinic", metavar="NAME", help="the clinic's name, as prescriptions show it")
    settings.add_argument("--exchange", metavar="ADDRESS", help="a folder, or an address such as sftp://host/folder")
    settings.add_argument("--language", metavar="CODE", help="language of new prescriptions, such as en or de")
    settings.add_argument("--timezone", metavar="ZONE", help="time zone of new prescriptions, such as Europe/Prague")
    settings.add_argument("--silent-days", type=int, metavar="N", help="days without a session that need attention")
    settings.add_argument("--review-days-ahead", type=int, metavar="N", help="days that a review is said ahead")
    settings.add_argument("--initials", metavar="CODE", help="of whoever signs at this desk, such as AB; no name")
    settings.set_defaults(run=lambda options: desk_work.settings(desk_of(options), options))


def _add_prescribe(own: Any) -> None:
    prescribe = own.add_parser(
        "prescribe",
        help="a prescription from a template or the last one",
        description="Show what would be ordered and what changes; with --issue, sign it and put it into the exchange.",
    )
    prescribe.add_argument("--patient", required=True, metavar="CODE", help="the clinic's code, such as HB-0042")
    prescribe.add_argument(
        "--from", dest="start", default="last", metavar="TEMPLATE", help=f"last, or {', '.join(template_names())}"
    )
    add_changes(prescribe)
    prescribe.add_argument(
        "--sensor",
        action="append",
        default=[],
        type=Path,
        metavar="FILE",
        help="enclose a sensor's description, so that it is known at home; may be repeated; later orders keep it",
    )
    prescribe.add_argument("--no-sensors", action="store_true", help="enclose none of the last order's descriptions")
    prescribe.add_argument(
        "--filled", action="store_true", help="fill it from the latest tests; says where each value comes from"
    )
    prescribe.add_argument("--keys", action="store_true", help="list everything that --set may change, with its range")
    prescribe.add_argument(
        "--acknowledge", action="store_true", help="with --issue: what is outside usual practice is meant"
    )
    prescribe.add_argument("--issue", action="store_true", help="sign it and put it into the exchange folder")
    visits.add_initials(prescribe)
    add_passphrase_option(prescribe)
    prescribe.set_defaults(run=lambda options: desk_work.prescribe(desk_of(options), options))
    difference = own.add_parser("difference", help="what changed from one revision to the next, in words")
    difference.add_argument("patient", metavar="CODE")
    difference.add_argument("revisions", nargs="*", type=int, metavar="REVISION", help="one or two (default: the last)")
    difference.set_defaults(run=lambda options: desk_work.show_difference(desk_of(options), options))
    deliver = own.add_parser("deliver", help="put what was issued into the exchange folder, where it is missing")
    deliver.set_defaults(run=lambda options: desk_work.deliver(desk_of(options)))


def _add_reading(own: Any) -> None:
    patients = own.add_parser("patients", help="all patients, those first that need attention")
    patients.add_argument("--discharged", action="store_true", help="those too who were discharged")
    patients.set_defaults(run=lambda options: desk_work.patients(desk_of(options), options.discharged))
    collect = own.add_parser("collect", help="open the hand-overs that came back")
    collect.add_argument("--words", metavar="WORDS", help="the words of a new computer, as the patient read them out")
    add_passphrase_option(collect)
    collect.set_defaults(run=lambda options: desk_work.collect(desk_of(options), options))
    report = own.add_parser("report", help="the report of everything that a patient handed over")
    report.add_argument("patient", metavar="CODE")
    report.set_defaults(run=lambda options: desk_work.report(desk_of(options), options))
