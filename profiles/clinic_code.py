"""The patient's code at the clinic: the only thing by which anybody is known here."""

from __future__ import annotations

import re

from musclewood.assets.saying import Saying, say

CLINIC_CODE = re.compile(r"[A-Z]{2,4}-[0-9]{3,5}")
_YEAR = re.compile(r"(19|20)[0-9]{2}")


def clinic_code_problem(value: str) -> Saying | None:
    """Why a value cannot be the patient's code, as a sentence; None if it can."""
    if CLINIC_CODE.fullmatch(value):
        if _YEAR.fullmatch(value.split("-")[1]):
            return say("mend.looks-like-a-year")
        return None
    if re.search(r"[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}", value):
        return say("mend.looks-like-a-date")
    if re.search(r"[^\W\d_]{3,}", value):
        return say("mend.looks-like-a-name")
    return say("mend.clinic-code")
