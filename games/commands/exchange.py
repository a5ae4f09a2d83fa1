"""`musclewood take` and `musclewood exchange`: the home side's way to the clinic and back."""

from __future__ import annotations

import argparse
from datetime import date, datetime
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.asking import clinic_confirmed, unsigned_confirmed
from musclewood.games.commands.printing import show
from musclewood.games.home.handing_over import pack_anew, send_anew
from musclewood.games.running.errors import DONE, INPUT_WRONG, CommandError
from musclewood.profiles.disk.files import read_bounded
from musclewood.profiles.errors import CopyAgainError, TrustError
from musclewood.profiles.exchange.admission import Admission
from musclewood.profiles.exchange.folder import send_handovers
from musclewood.profiles.exchange.places import open_place, whole_address
from musclewood.profiles.home import exchange as home_exchange
from musclewood.profiles.home.homes import VARIABLE, Home
from musclewood.profiles.orders.usual_practice import acknowledged
from musclewood.profiles.trust.pins import safe_code
from musclewood.profiles.trust.signature import LARGEST_BYTES

STANDINGS = {
    "unsigned": "not signed; this computer is paired with no clinic",
    "known": "from the clinic you are paired with",
    "first": "you are now paired with this clinic",
    "new clinic": "you are now paired with another clinic",
}


def add(commands: Any) -> None:
    """Describe both commands to argparse."""
    taking = commands.add_parser(
        "take",
        help="let in a prescription that the clinic sent",
        description="Let a prescription in. The first time, the clinic's words are shown, to be compared by telephone.",
    )
    taking.add_argument("prescription", type=Path, metavar="FILE", help="the signed prescription")
    taking.add_argument(
        "--unsigned", action="store_true", help="let it in although nobody signed it, where no clinic is paired"
    )
    _add_common(taking)
    taking.set_defaults(run=run_take)
    visiting = commands.add_parser(
        "exchange",
        help="fetch new prescriptions and send hand-overs",
        description="Fetch what the clinic issued, and send what waits in the outbox. Running it again does no harm.",
    )
    visiting.add_argument(
        "address", nargs="?", metavar="ADDRESS", help="the exchange folder, or an address (default: the last one)"
    )
    visiting.add_argument(
        "--patient", metavar="CODE", help="for this patient alone; needed before the first prescription"
    )
    visiting.add_argument(
        "--new-sender", action="store_true", help="send as a new computer, as after restoring this one from a backup"
    )
    _add_common(visiting)
    visiting.set_defaults(run=run_exchange)


def _add_common(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--words", metavar="WORDS", help="the clinic's ten words, as it read them out (default: ask)")
    parser.add_argument("--new-clinic", action="store_true", help="pair with another clinic, or with its new key")
    parser.add_argument("--home", type=Path, metavar="DIR", help=f"folder with the patient's files (or set {VARIABLE})")


def run_take(options: argparse.Namespace) -> int:
    """Let one file in.  Raises CommandError, PrescriptionError."""
    home = _home(options)
    try:
        content = read_bounded(options.prescription, LARGEST_BYTES)
        admission = home_exchange.take(
            home,
            content,
            today=_today(),
            confirm=clinic_confirmed(options.words),
            confirm_unsigned=unsigned_confirmed(options.unsigned),
            new_clinic=options.new_clinic,
        )
    except TrustError as error:
        raise CommandError(say("wrong.in-file", name=options.prescription, problem=error.args[0])) from None
    _say(home, admission)
    return DONE


def run_exchange(options: argparse.Namespace) -> int:
    """Visit the exchange folder.  Raises CommandError, TrustError."""
    home = _home(options)
    address = whole_address(options.address) if options.address else home_exchange.remembered_address(home)
    if not address:
        raise CommandError(say("command.no-exchange-folder"))
    if options.patient is not None:
        _check_code(options.patient)
    elif not home.patients():
        raise CommandError(say("command.nobody-paired"))
    place = open_place(address)
    if options.new_sender:
        for patient in [options.patient] if options.patient else home.patients():
            show(f"{patient}: the clinic will ask for this computer's new words: {' '.join(send_anew(home, patient))}")
    visited = home_exchange.visit(
        home,
        place,
        today=_today(),
        patient=options.patient,
        confirm=clinic_confirmed(options.words),
        new_clinic=options.new_clinic,
    )
    home_exchange.remember_address(home, address)
    sent = list(visited.sent)
    for patient, fetched in visited.fetched.items():
        if fetched.admission is not None and fetched.admission.standing == "new clinic":
            pack_anew(home, patient)
            sent += send_handovers(home.outbox, place)
    refused = False
    for patient, fetched in visited.fetched.items():
        if fetched.admission is None and not fetched.refused:
            show(f"{patient}: nothing new from the clinic")
        elif fetched.admission is not None:
            _say(home, fetched.admission)
        for refusal in fetched.refused:
            refused = refused or not isinstance(refusal.reason, CopyAgainError)
            show(f"refused: {refusal.name}: {refusal.reason}")
    for name in sent:
        show(f"sent: {name}")
    return INPUT_WRONG if refused else DONE


def _say(home: Home, admission: Admission) -> None:
    prescription = admission.prescription
    state = "now in force" if admission.changed else "it was in force already"
    show(f"prescription {prescription.revision} for {prescription.patient}: {STANDINGS[admission.standing]}; {state}")
    for concern in acknowledged(prescription):
        show(f"outside usual practice, acknowledged when signed: {concern.sentence()}")
    if admission.standing in ("first", "new clinic"):
        words = " ".join(home_exchange.computer_words(home, prescription.patient))
        show(f"the clinic will ask for this computer's words: {words}")


def _check_code(patient: str) -> None:
    try:
        safe_code(patient)
    except ValueError as error:
        raise CommandError(say("wrong.in-file", name="--patient", problem=error.args[0])) from None


def _home(options: argparse.Namespace) -> Home:
    home = Home(options.home) if options.home is not None else Home.find()
    home.create()
    return home


def _today() -> date:
    return datetime.now().astimezone().date()
