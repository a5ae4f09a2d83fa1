"""Options that several commands share."""

from __future__ import annotations

import argparse


def add_recording_options(parser: argparse.ArgumentParser) -> None:
    """What a CSV file does not say about itself."""
    parser.add_argument("--rate", type=_rate, metavar="HZ", help="samples a second, for a CSV file without time_s")
    parser.add_argument("--unit", choices=("uV", "mV", "V"), default="uV", help="unit of a CSV file (uV)")


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number") from None
    if not 10.0 <= rate <= 100_000.0:
        raise argparse.ArgumentTypeError("samples a second lie between 10 and 100000")
    return rate
