"""T9: a new passphrase that would be guessed soon is refused; zxcvbn is the measure, with words of the clinic's
language."""

from __future__ import annotations

import pytest
from musclewood.profiles.errors import GuessablePassphraseError, PassphraseError
from musclewood.profiles.trust.key_file import LOWEST, lock, unlock
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.passphrases import refuse_weak


@pytest.mark.parametrize(
    ("passphrase", "language"),
    [
        ("aaaaaaaaaaaa", "en"),
        ("a" * 300, "en"),
        ("abcabcabcabc", "en"),
        ("qwertzuiopasdf", "de"),
        ("password1234", "en"),
        ("123456789012", "en"),
        ("Klinik2026!!", "de"),
        ("Physiotherapie1", "de"),
        ("passwortpasswort", "de"),
        ("Musclewood2026", "en"),
    ],
)
def test_what_is_guessed_soon_is_refused(passphrase: str, language: str) -> None:
    with pytest.raises(GuessablePassphraseError, match="guessed"):
        refuse_weak(passphrase, language)


@pytest.mark.parametrize(
    "passphrase", ["twig lantern kettle plank", "four other plain words", "Zwölf Dohlen backen Kompott", "x7#Kp!9vQz2&"]
)
def test_four_words_or_chance_are_taken_in_every_language(passphrase: str) -> None:
    for language in ("en", "de", "de-CH", "fr"):
        refuse_weak(passphrase, language)


def test_a_key_that_was_locked_with_a_weak_one_still_opens(monkeypatch: pytest.MonkeyPatch) -> None:
    from musclewood.profiles.trust import key_file

    keys = ClinicKeys.new()
    with monkeypatch.context() as earlier:
        earlier.setattr(key_file, "refuse_weak", lambda *_: None)
        text = lock(keys, "aaaaaaaaaaaa", LOWEST)
    assert unlock(text, "aaaaaaaaaaaa").identity == keys.identity
    with pytest.raises(PassphraseError, match="too short"):
        lock(keys, "short", LOWEST)
