"""What can go wrong with orders and records, grouped by who must act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a file: where it is, what is wrong, what would be right."""

    key_path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.key_path}: {self.problem}; {self.remedy}"


class PrescriptionError(Exception):
    """The therapist can mend it: a prescription with faults, all of them named."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = tuple(faults)


class JournalError(Exception):
    """The patient can mend it, or ask for help: the journal cannot be opened or written. `remedy` says what to do."""

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(f"{problem}; {remedy}")
        self.problem = problem
        self.remedy = remedy


class HandoverError(Exception):
    """The therapist can mend it: a file that is no sound hand-over. `remedy` says what to do."""

    def __init__(self, problem: str, remedy: str = "ask for the hand-over again") -> None:
        super().__init__(f"{problem}; {remedy}")
        self.problem = problem
        self.remedy = remedy
