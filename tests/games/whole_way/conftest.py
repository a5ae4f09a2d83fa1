"""Desk and home stand where the orders live."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

ZONE = "Europe/Prague"  # of the orders that are played here


@pytest.fixture(autouse=True)
def in_the_zone_of_the_order() -> Iterator[None]:
    """Wherever these tests run: else a desk may sign on one day what is played on another, an hour before midnight."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", ZONE)
        _look_again()
        yield
    _look_again()


def _look_again() -> None:
    if hasattr(time, "tzset"):
        time.tzset()
