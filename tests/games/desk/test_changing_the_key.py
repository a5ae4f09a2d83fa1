"""The clinic's key in the window: its words again, and changed in good order."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pygame
import pytest
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.trust.key_file import LOWEST

PASSPHRASE = "four quiet hornbeam leaves"


def test_the_key_is_changed_with_its_passphrase_alone(
    hands: Callable[..., Any], clinic: Clinic, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Clinic.change_key, "__defaults__", (LOWEST,))
    old = clinic.make_key(PASSPHRASE)
    at, words = hands(), clinic.words()
    for key in ("settings", "clinic", "key"):
        at.enter(key)
    assert at.screen() == "WordsPage"
    at.enter("change")
    assert at.screen() == "ChangeKeyPage"
    at.tab_to("passphrase")
    for typed, screen in (("twig lantern kettle blank", "ChangeKeyPage"), (PASSPHRASE, "WordsPage")):
        assert clinic.words() == words
        at.type(typed)
        at.key(pygame.K_RETURN)
        at.wait()
        assert at.screen() == screen
    assert clinic.words() != words
    assert [one.identity for one in clinic.unlock(PASSPHRASE).earlier] == [old.identity]
