"""Whether a passphrase would be guessed: by its length, and by how an attacker would go about it (zxcvbn, Wheeler
2016).

Each guess costs a second (see `key_file`), so what takes ten thousand million guesses is out of reach for whoever finds
the file. zxcvbn knows English words; those of the clinic's language, and those that people in a clinic choose first,
are added. Wheeler DL. zxcvbn: low-budget password strength estimation. USENIX Security 2016, 157-173.
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

from musclewood.assets.saying import say
from musclewood.profiles.errors import GuessablePassphraseError, PassphraseError

SHORTEST = 12  # letters; our choice: four short words
LOWEST_SCORE = 4  # of 0 to 4: more than 10^10 guesses (Wheeler, table 1); a second each, but by many at once
LOOKED_AT = 72  # zxcvbn takes no more


def refuse_weak(passphrase: str, language: str = "en") -> None:
    """Raises PassphraseError for a short one, GuessablePassphraseError for one that would be guessed."""
    if len(passphrase) < SHORTEST:
        problem = say("wrong.passphrase-too-short")
        raise PassphraseError(problem, say("mend.use-least-letters-example", shortest=SHORTEST))
    from zxcvbn import zxcvbn  # takes its time, and only a new passphrase needs it

    if zxcvbn(passphrase[:LOOKED_AT], user_inputs=list(_words(language[:2])))["score"] < LOWEST_SCORE:
        problem = say("wrong.passphrase-would-guessed-soon")
        raise GuessablePassphraseError(problem, say("mend.use-four-words-nothing"))


@cache
def _words(language: str) -> tuple[str, ...]:
    """Those that are chosen first, then all that this program says in the language."""
    assets = files("musclewood.assets")
    first = assets.joinpath("trust", "guessed-words.txt").read_text("utf-8").split()
    catalogue = assets.joinpath("text", f"{language}.toml")
    spoken = catalogue.read_text("utf-8").lower() if catalogue.is_file() else ""
    return tuple(dict.fromkeys([*first, *re.findall(r"[^\W\d_]{4,}", spoken)]))
