"""Questions on the command line: a passphrase that is never shown, and a yes that somebody has to mean."""

from __future__ import annotations

import argparse
import getpass
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.running.errors import CommandError
from musclewood.profiles.exchange.admission import Confirm, ConfirmUnsigned, Introduction, Unsigned
from musclewood.profiles.exchange.reception import ConfirmSender, NewSender
from musclewood.profiles.orders.usual_practice import Concern
from musclewood.profiles.trust.words import same_words

PASSPHRASE_VARIABLE = "MUSCLEWOOD_PASSPHRASE"


def add_passphrase_option(parser: argparse.ArgumentParser, name: str = "--passphrase-file", default: str = "") -> None:
    """A passphrase has no option of its own: what is typed behind a command stays in the shell's memory."""
    words = default or f"the passphrase (default: ask, or {PASSPHRASE_VARIABLE})"
    parser.add_argument(name, type=Path, metavar="FILE", help=f"its first line is {words}")


def passphrase(options: argparse.Namespace, *, new: bool = False) -> str:
    """From the file, the environment, or by asking; asked for twice when it is new. Raises CommandError."""
    if options.passphrase_file is None and (given := os.environ.get(PASSPHRASE_VARIABLE)) is not None:
        return given
    return passphrase_from(options.passphrase_file, "passphrase of the clinic's key: ", new=new)


def passphrase_from(path: Path | None, question: str, *, new: bool) -> str:
    """From a file's first line, or by asking. Raises CommandError."""
    if path is not None:
        try:
            lines = path.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as error:
            reason = getattr(error, "strerror", None) or "it is not UTF-8"
            raise CommandError(say("command.file-unreadable", path=path, reason=reason)) from None
        return lines[0] if lines else ""
    if not sys.stdin.isatty():
        raise CommandError(say("command.nobody-to-ask", passphrase_variable=PASSPHRASE_VARIABLE))
    first = getpass.getpass(question)
    if new and getpass.getpass("once more: ") != first:
        raise CommandError(say("command.passphrases-differ"))
    return first


def clinic_confirmed(words: str | None) -> Confirm:
    """Shows a clinic's words and waits for a yes; `words`, if given, are what the clinic said and are compared."""

    def confirm(introduction: Introduction) -> bool:
        show(f"This prescription for {introduction.patient} says that it comes from: {introduction.clinic}")
        if introduction.replaces:
            show(f"It would take the place of: {introduction.replaces}")
        show(f"The clinic's words: {' '.join(introduction.words)}")
        if words is not None:
            return same_words(words, introduction.fingerprint)
        return _yes("Call the clinic. Does it read out the same words, in the same order? Type yes: ")

    return confirm


def unsigned_confirmed(meant: bool) -> ConfirmUnsigned:
    """Says what is missing from an order that nobody signed and waits for a yes, unless it was given beforehand."""

    def confirm(order: Unsigned) -> bool:
        show(
            f"Nobody signed this prescription {order.revision} for {order.patient}; it claims to come from: "
            f"{order.clinic}"
        )
        show("So nobody vouches whose it is, that it was not changed, or that it is whole.")
        show(f"It orders {len(order.exercises)} exercise(s): {'; '.join(order.exercises)}")
        return meant or _yes("Did your therapist give you this very file, with these exercises? Type yes: ")

    return confirm


def sender_confirmed(words: str | None) -> ConfirmSender:
    """Shows the words of a computer that sends for the first time and waits for a yes."""

    def confirm(sender: NewSender) -> bool:
        which = "another computer" if sender.further else "a computer"
        show(f"{sender.patient} sends from {which} for the first time. Its words: {' '.join(sender.words)}")
        if words is not None:
            return words.lower().split() == list(sender.words)
        return _yes("Does the patient's computer show the same words? Type yes: ")

    return confirm


def unusual_meant(concerns: Sequence[Concern], meant: bool) -> list[str]:
    """The concerns that whoever signs means, each named just before; asks for a yes unless it was given beforehand."""
    if concerns and not meant and not _yes("Sign it although it is outside usual practice? Type yes: "):
        raise CommandError(say("command.not-issued"))
    return [concern.id for concern in concerns]


def _yes(question: str) -> bool:
    if not sys.stdin.isatty():
        return False
    return input(question).strip().lower() in ("yes", "ja", "y", "j")
