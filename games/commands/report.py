"""`musclewood report`: the report of a journal or of a hand-over, as one HTML page."""

from __future__ import annotations

import argparse
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.commands.progress import progress
from musclewood.games.home.prescribed import prescription_as_written
from musclewood.games.running.errors import DONE, INPUT_WRONG, CommandError
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.errors import HandoverError, StorageError
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.home.exchange import earlier_orders
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, read_ledger
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.report.words import LANGUAGES

SQLITE_START = b"SQLite format 3\0"
ZIP_START = b"PK"
SEALED_START = b"musclewood-sealed-handover/"


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "report",
        help="the report of a journal or hand-over, as HTML; or a table of a whole caseload",
        description="Make the report of a journal (.sqlite) or of an opened hand-over (.zip): one HTML page. With "
        "--caseload, put all hand-overs of a folder into one table and Parquet files.",
    )
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("source", type=Path, metavar="FILE", nargs="?", help="a journal or a hand-over")
    what.add_argument("--caseload", type=Path, metavar="FOLDER", help="the folder with the hand-overs of many patients")
    parser.add_argument(
        "--prescription", type=Path, metavar="FILE", help="what was ordered (for a journal; default: the one in force)"
    )
    parser.add_argument(
        "--into",
        metavar="PATH",
        help="the page, or the caseload's folder, to write (default: beside the source); a caseload also to an address "
        "such as s3://bucket/folder",
    )
    parser.add_argument(
        "--demonstration", action="store_true", help="show practice as if it were dose, and say so in a banner"
    )
    parser.add_argument(
        "--fhir", type=Path, metavar="PATH", help="also write a hand-over's essence as an HL7 FHIR R4B bundle (JSON)"
    )
    parser.add_argument("--language", choices=LANGUAGES, help="of the report (default: that of the prescription)")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the page, or the caseload.  Raises CommandError, PrescriptionError, JournalError, HandoverError."""
    if options.caseload is not None:
        return gather_caseload(options.caseload, options.into)
    from musclewood.profiles.report.page import render_report  # matplotlib takes its time; only this needs it

    ledger, prescription, earlier, until = what_was_done(options.source, options.prescription)
    into = Path(options.into) if options.into else options.source.with_suffix(".html")
    page = render_report(
        ledger,
        prescription,
        demonstration=options.demonstration,
        revisions=earlier,
        until=until,
        language=options.language,
    )
    try:
        write_whole(into, page.encode("utf-8"))
    except StorageError as error:
        raise CommandError(say("command.name-another", into=into, problem=error.problem)) from None
    show(f"report: {into}")
    if options.fhir is not None:
        _write_fhir(options.source, options.fhir)
    return 0


def _write_fhir(source: Path, into: Path) -> None:
    """The essence of a hand-over for another system.  Raises CommandError."""
    from musclewood.profiles.handover.fhir import bundle_of

    content = source.read_bytes()
    if not content.startswith(ZIP_START):
        raise CommandError(say("command.fhir-zip", source=source))
    try:
        write_whole(into, bundle_of(read_handover(content, efforts=False)))
    except (HandoverError, StorageError) as error:
        raise CommandError(say("wrong.in-file", name=into, problem=error.args[0])) from None
    show(f"FHIR R4B bundle: {into}")


def gather_caseload(source: Path, into: str | None) -> int:
    """Write the caseload of a folder; hand-overs that cannot be read are named and keep no other one out."""
    from musclewood.profiles.caseload.parquet import gather  # needs what only the extra brings

    tell = progress("hand-overs")
    if into is not None and "://" in into:
        from musclewood.profiles.caseload.object_storage import put_caseload

        with tempfile.TemporaryDirectory() as work:
            gathered = gather(source, Path(work) / "caseload", tell)
            put_caseload(gathered.folder, into)
    else:
        gathered = gather(source, Path(into) if into else source.with_name(f"{source.name}-caseload"), tell)
    for path, reason in gathered.refused:
        show(f"refused: {path}: {reason}")
    if gathered.sealed:
        show(f"left out: {gathered.sealed} still sealed; open them with 'musclewood desk collect'")
    where = into or gathered.folder
    show(f"caseload: {where} ({gathered.patients} patients from {gathered.files} hand-overs)")
    for line in alike_in_words(gathered.alike):
        show(line)
    return INPUT_WRONG if gathered.refused else DONE


def alike_in_words(alike: tuple[float, int] | None) -> list[str]:
    """How alike neighbouring days are: what the bounds of a change were widened for."""
    if alike is None:
        return []
    correlation, patients = alike
    return [
        f"days of one muscle resemble the day before by {correlation:+.2f} (lag-one correlation, {patients} patients)"
    ]


def what_was_done(
    source: Path, ordered: Path | None
) -> tuple[Ledger, Prescription, Sequence[Prescription], datetime | None]:
    """The ledger of a journal or hand-over, the order that belongs to it, the orders before, and where a hand-over
    ends."""
    try:
        with source.open("rb") as file:
            start = file.read(len(SQLITE_START))
    except OSError as error:
        raise CommandError(say("command.source-unreadable", source=source, reason=error.strerror)) from None
    if start.startswith(ZIP_START):
        try:
            handover = read_handover(source.read_bytes(), efforts=False)
        except HandoverError as error:
            raise CommandError(say("wrong.in-file", name=source, problem=error.args[0])) from None
        prescription = prescription_as_written(ordered) if ordered else handover.prescription
        return handover.ledger, prescription, handover.earlier_orders, datetime.fromisoformat(handover.created)
    if start and SEALED_START.startswith(start):
        raise CommandError(say("command.sealed", source=source))
    if start != SQLITE_START:
        raise CommandError(say("command.neither", source=source))
    home = Home.find()
    prescription = prescription_as_written(ordered or home.prescription_path)
    with _copy_of(source) as copy, Journal.open(copy) as journal:
        if journal.set_aside is not None:
            raise CommandError(say("command.journal-damaged", source=source))
        return read_ledger(journal), prescription, earlier_orders(home, prescription), None


@contextmanager
def _copy_of(source: Path) -> Iterator[Path]:
    """Read from a copy, so that nothing about the patient's own journal can change and a running session goes on."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "journal.sqlite"
        shutil.copyfile(source, copy)
        log = source.with_name(source.name + "-wal")
        if log.exists():
            shutil.copyfile(log, copy.with_name(copy.name + "-wal"))
        yield copy
