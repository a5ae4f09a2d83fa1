"""Fixtures for files from anywhere; what they are made of stands in `watched_clinic.py`."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from watched_clinic import Bed, Nursery, an_empty_clinic


@pytest.fixture(scope="session")
def _mother(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Nursery]:
    made = Nursery(tmp_path_factory.mktemp("nursery"))
    yield made
    made.close()


@pytest.fixture
def nursery(_mother: Nursery) -> Nursery:
    """Commands run one by one, each in a process of its own, and told what they took."""
    return _mother


@pytest.fixture
def bed(tmp_path: Path) -> Bed:
    return an_empty_clinic(tmp_path)
