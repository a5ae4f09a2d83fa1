"""What a calibration has to say to whoever makes it: codes. The sentences stand in the catalogues of each language."""

from __future__ import annotations

from enum import StrEnum


class Remark(StrEnum):
    """A key under `measuring` in the catalogues."""

    NOT_QUIET = "not-quiet"
    NOT_READABLE = "not-readable"  # also while a coarse sensor that shows one number has not yet shown that it lives
    BEGIN = "begin"
    LET_GO = "let-go"
    DIFFERED = "differed"
    FEW_TRIALS = "few"
    STILL_DIFFERED = "still-differed"
    FAINT = "faint"
    # Why nothing was found: the signal, the noise at rest, the sensor's steps, the place of the pads, or (in exercise)
    # noise over the effort.
    NO_SIGNAL = "no-signal"
    NOISY = "noisy"
    UNQUIET = "unquiet"
    COARSE = "coarse"
    MISPLACED = "misplaced"
    HIDDEN = "hidden"
    # Why a trial does not count.
    TOO_SHORT = "too-short"
    TOO_SPIKY = "too-spiky"
    UNREADABLE = "unreadable"
