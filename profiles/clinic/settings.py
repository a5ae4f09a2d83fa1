"""The desk's settings: a small TOML file that a person can also write."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Literal

import tomli_w
from musclewood.assets.saying import say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import StorageError
from musclewood.profiles.exchange.places import has_password
from musclewood.profiles.orders.exercises import OneLine, TimeZone
from musclewood.profiles.orders.faults import faults_of_schema
from musclewood.profiles.visits.entries import INITIALS
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator


class DeskSettings(BaseModel):
    """`exchange` is a folder or an address, empty for none; days until silence and before a
    review that is announced."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    format: Literal["musclewood-desk/1"] = "musclewood-desk/1"
    clinic: Annotated[str, Field(min_length=1, max_length=80), OneLine] = "Clinic"
    exchange: Annotated[str, Field(max_length=1000)] = ""
    language: Annotated[str, Field(pattern=r"^[a-z]{2}(-[A-Z]{2})?$")] = "en"
    timezone: TimeZone | None = None
    initials: Annotated[str, Field(pattern=rf"^$|{INITIALS}")] = ""  # of whoever signs here, if no other are given
    # Seven days without a session leave out at least one session of any usual order. Our choice.
    silent_days: Annotated[int, Field(ge=1, le=90)] = 7
    review_days_ahead: Annotated[int, Field(ge=0, le=90)] = 7

    @field_validator("exchange")
    @classmethod
    def _without_a_password(cls, value: str) -> str:
        if has_password(value):
            raise ValueError(say("mend.no-password"))
        return value


def load_settings(path: Path) -> DeskSettings:
    """The settings; the defaults when there are none. Raises StorageError."""
    if not path.exists():
        return DeskSettings()
    try:
        return DeskSettings.model_validate(tomllib.loads(read_bounded(path, 100_000).decode("utf-8")))
    except ValidationError as error:
        fault = faults_of_schema(error, DeskSettings)[0]
        raise StorageError(
            say("wrong.setting", name=path.name, where=fault.key_path, lower=fault.remedy), say("mend.mend-line")
        ) from None
    except ValueError:
        raise StorageError(say("wrong.cannot-read-toml", name=path.name), say("mend.mend-remove-start-over")) from None


def save_settings(settings: DeskSettings, path: Path) -> None:
    """Raises StorageError."""
    write_whole(path, tomli_w.dumps(settings.model_dump(exclude_none=True)).encode())
