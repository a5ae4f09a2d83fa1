"""The patient's code at the clinic: the only thing by which anybody is known here."""

from __future__ import annotations

import re

CLINIC_CODE = re.compile(r"[A-Z]{2,4}-[0-9]{3,5}")
_YEAR = re.compile(r"(19|20)[0-9]{2}")


def clinic_code_problem(value: str) -> str | None:
    """Why a value cannot be the patient's code, as a sentence; None if it can."""
    if CLINIC_CODE.fullmatch(value):
        if _YEAR.fullmatch(value.split("-")[1]):
            return (
                "this looks like initials and a year; a birth date must not be stored, use a running number: 'HB-0042'"
            )
        return None
    if re.search(r"[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}", value):
        return "this looks like a date; a birth date must not be stored, use the clinic's code, such as 'HB-0042'"
    if re.search(r"[^\W\d_]{3,}", value):
        return "this looks like a name; names must not be stored, use the clinic's code, such as 'HB-0042'"
    return "use the clinic's code: 2 to 4 capital letters, a hyphen, 3 to 5 digits, such as 'HB-0042'"
