"""`musclewood desk away | discharge | back | log`: absence, discharge, and who did what when."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.desk.pages.visits_told import WHY, discharge_of
from musclewood.games.running.errors import DONE, CommandError
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.visits.entries import (
    Away,
    Content,
    Discharge,
    Entry,
    Examination,
    LadderTest,
    OppositeTest,
    ReferenceTest,
    Result,
    Return,
    SidesTest,
    Signed,
    TrialSetAside,
)

Of = Callable[[argparse.Namespace], Clinic]


def add_ways(own: Any, desk_of: Of) -> None:
    """Describe these commands to argparse."""
    away = own.add_parser("away", help="a pause with dates, so that nobody counts as silent")
    away.add_argument("patient", metavar="CODE")
    away.add_argument("--from", dest="first", type=date.fromisoformat, required=True, metavar="DATE")
    away.add_argument("--to", dest="last", type=date.fromisoformat, required=True, metavar="DATE")
    away.set_defaults(run=lambda options: write_away(desk_of(options), options))
    done = own.add_parser("discharge", help="a summary, then out of the daily list")
    done.add_argument("patient", metavar="CODE")
    done.add_argument("--why", choices=WHY, default=WHY[0])
    done.set_defaults(run=lambda options: discharge(desk_of(options), options))
    back = own.add_parser("back", help="into the daily list again after a discharge")
    back.add_argument("patient", metavar="CODE")
    back.set_defaults(run=lambda options: come_back(desk_of(options), options))
    log = own.add_parser("log", help="who signed, tested or changed what, and when")
    log.add_argument("patient", nargs="?", metavar="CODE", help="one patient (default: everybody)")
    log.set_defaults(run=lambda options: show_log(desk_of(options), options))
    paper = own.add_parser("leaflet", help="a leaflet to print from the last order: pads, steps, days, words, cautions")
    paper.add_argument("patient", metavar="CODE")
    paper.set_defaults(run=lambda options: write_leaflet(desk_of(options), options))
    for one in (away, done, back):
        add_initials(one)


def add_initials(parser: argparse.ArgumentParser) -> None:
    """The code of whoever acts."""
    parser.add_argument("--initials", metavar="CODE", default=None, help="of whoever acts, such as AB; no name")


def initials(clinic: Clinic, options: argparse.Namespace) -> str:
    """As given, else as the desk's settings say."""
    return options.initials if options.initials is not None else clinic.settings.initials


def write(clinic: Clinic, patient: str, content: Content, options: argparse.Namespace) -> Entry:
    """Add an entry to the book. Raises ClinicError, StorageError."""
    return clinic.visits.add(patient, content, datetime.now().astimezone(), initials(clinic, options))


def write_away(clinic: Clinic, options: argparse.Namespace) -> int:
    """Somebody will not train for some days."""
    _known(clinic, options.patient)
    if options.last < options.first:
        raise CommandError(say("command.to-before-from"))
    write(clinic, options.patient, Away(first=options.first, last=options.last), options)
    show(f"away: {options.patient} from {options.first} to {options.last}; does not count as silent")
    return DONE


def discharge(clinic: Clinic, options: argparse.Namespace) -> int:
    """Say in figures what was reached, and leave the daily list."""
    row = _known(clinic, options.patient)
    content = discharge_of(row, datetime.now().astimezone().date(), options.why)
    write(clinic, options.patient, content, options)
    for line in content.summary:
        show(line)
    show(f"discharged: {options.patient}; 'musclewood desk back {options.patient}' takes it back")
    return DONE


def come_back(clinic: Clinic, options: argparse.Namespace) -> int:
    """Take a discharge back."""
    _known(clinic, options.patient)
    write(clinic, options.patient, Return(on=datetime.now().astimezone().date()), options)
    show(f"in the daily list again: {options.patient}")
    return DONE


def show_log(clinic: Clinic, options: argparse.Namespace) -> int:
    """A line an entry, the oldest first."""
    paths = clinic.visits.by_patient()
    codes = [options.patient] if options.patient else list(paths)
    entries = sorted((entry for code in codes for entry in clinic.visits.entries(code)), key=lambda entry: entry.at)
    for entry in entries:
        show(f"{entry.at:%Y-%m-%d %H:%M} {entry.by or '-'} {entry.patient} {entry.number}: {in_words(entry.content)}")
    if not entries:
        show("nothing is written down yet")
    return DONE


def in_words(content: Content) -> str:
    """One entry in a line."""
    match content:
        case Examination():
            return f"{result_in_words(content.result)}{f'; pain {max(content.pain)} of 10' if content.pain else ''}"
        case TrialSetAside():
            return f"trial {content.trial} of entry {content.entry} set aside: {content.reason}"
        case Away():
            return f"away from {content.first} to {content.last}"
        case Discharge():
            return f"discharged, {content.why}: {'; '.join(content.summary)}"
        case Return():
            return "in the daily list again"
        case Signed():
            meant = f", acknowledged: {', '.join(content.acknowledged)}" if content.acknowledged else ""
            return f"signed order {content.revision}{meant}"


def result_in_words(result: Result) -> str:
    """A test in a line."""
    match result:
        case ReferenceTest():
            found = f"{result.reference_uv:.0f} µV ({result.low_uv:.0f} to {result.high_uv:.0f})"
            return f"{result.reference} of {result.found.name}, {result.found.side}: {found}"
        case SidesTest():
            span = f"{result.deficit_pct:.0f} % ({result.low_pct:.0f} to {result.high_pct:.0f})"
            kept = "; before the operation" if result.purpose == "before operation" else ""
            return f"both sides of {result.involved.name}, {result.way}: deficit {span}, {result.says}{kept}"
        case OppositeTest():
            return (
                f"opposite of {result.agonist}: index {result.index_pct:.0f} %, ceiling {result.ceiling_pct_mvc:.0f} %"
            )
        case LadderTest():
            if result.target_pct_mvc is None:
                return f"ladder of {result.muscle}: {len(result.holds)} holds, {result.ended}, no proposal"
            band = f"{result.target_pct_mvc:.0f} +/- {result.tolerance_pct_mvc or 0:.0f} % for {result.hold_s or 0:g} s"
            return f"ladder of {result.muscle}: {len(result.holds)} holds, {result.ended}, proposes {band}"


def write_leaflet(clinic: Clinic, options: argparse.Namespace) -> int:
    """The last order as a page to print, beside the reports."""
    from musclewood.games.desk.base.leaflet import leaflet  # its art takes its time

    orders = clinic.orders(options.patient)
    if not orders:
        raise CommandError(say("command.nothing-issued", patient=options.patient))
    path = clinic.root / "reports" / f"{options.patient}-leaflet.html"
    write_whole(path, leaflet(orders[-1], clinic.words()).encode())
    show(f"leaflet: {path}")
    return DONE


def _known(clinic: Clinic, code: str) -> Any:
    try:
        return clinic.patient(code, datetime.now().astimezone().date())
    except KeyError:
        raise CommandError(say("command.nothing-known", code=code)) from None
