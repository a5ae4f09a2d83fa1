"""Reads a prescription file and lets it in by the rules of the home side."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.games.running.errors import CommandError
from musclewood.profiles.disk.files import read_bounded
from musclewood.profiles.errors import PrescriptionError, TrustError
from musclewood.profiles.exchange.admission import load_prescription, open_prescription
from musclewood.profiles.home import exchange as home_exchange
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import Prescription, read_text
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.signature import LARGEST_BYTES


def pin_folder(home: Home) -> PinFolder:
    """Where this home remembers the clinics that it is paired with."""
    return PinFolder(home.root / "trust")


def prescription_in_force(path: Path, home: Home, today: date) -> Prescription:
    """A prescription that may be played here today: signed by the paired clinic, or unsigned where there is none.

    Raises CommandError with a line for every fault.
    """
    with _naming(path):
        read_text(path)  # says plainly what is wrong with a file that is no text at all
        return load_prescription(path, pin_folder(home), today=today)


def agreed(path: Path, home: Home) -> bool:
    """Whether an order is signed, or somebody here said yes to it. What cannot be read is left to whoever opens it."""
    try:
        content = read_bounded(path, LARGEST_BYTES)
        return home_exchange.agreed(home, content, open_prescription(content, unsigned_allowed=True))
    except (PrescriptionError, TrustError):
        return True


def prescription_as_written(path: Path) -> Prescription:
    """A prescription as its file says, wherever it is to be played.  Raises CommandError with a
    line for every fault."""
    with _naming(path):
        read_text(path)
        return open_prescription(path.read_bytes(), unsigned_allowed=True).prescription


@contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Put the file's name before every fault of it."""
    try:
        yield
    except PrescriptionError as error:
        raise CommandError(*(say("wrong.in-file", name=path, problem=fault.line) for fault in error.faults)) from None
    except TrustError as error:
        raise CommandError(say("wrong.in-file", name=path, problem=error.args[0])) from None
