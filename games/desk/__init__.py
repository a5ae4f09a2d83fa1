"""The therapist's desk: who needs attention, what is ordered, what comes back.

list of patients -> one patient -> an order in the making -> try-out -> signature -> exchange folder
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from musclewood.profiles.clinic import Clinic


def open_desk(clinic: Clinic) -> None:
    """The desk in a window, until somebody leaves."""
    from musclewood.games.desk.app import run_desk  # pygame takes its time; only a window needs it

    run_desk(clinic)
