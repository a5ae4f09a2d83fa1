"""What the program says, by key, in the reader's language; assets/text holds one complete file a language."""

from musclewood.assets.saying import Saying, catalogue
from musclewood.signal.errors import SensorError

LANGUAGES: dict[str, str] = {"en": "English", "de": "Deutsch"}


class Words:
    """Looks sentences up: `words("today.ask", count=3)`. A language that is not kept reads as English."""

    def __init__(self, language: str = "en") -> None:
        self.language = language if language in LANGUAGES else "en"
        self._catalogue = catalogue(self.language)

    def __call__(self, key: str, /, **values: object) -> str:
        """The sentence under a key with `{names}` filled in; KeyError for a key nobody wrote."""
        return self._catalogue[key].format(**values)

    def has(self, key: str) -> bool:
        """Whether a sentence is kept under this key."""
        return key in self._catalogue

    def said(self, sentence: str) -> str:
        """A sentence of another room in this language; what is no saying (a name, a number) stays as it is."""
        if not isinstance(sentence, Saying):
            return sentence
        values = {
            name: self.said(value) if isinstance(value, str) else value for name, value in sentence.values.items()
        }
        return self(sentence.code, **values)

    def count(self, key: str, number: int, **values: object) -> str:
        """`key.one` or `key.other`, whichever the number asks for, with `{count}` filled in."""
        return self(f"{key}.{'one' if number == 1 else 'other'}", count=number, **values)


def told(words: Words, error: Exception) -> str:
    """What an error says to a person: what is wrong, and what to do."""
    if isinstance(error, SensorError):
        return f"{words(f'trouble.{error.trouble}')} {words(f'trouble-advice.{error.trouble}')}"
    if error.args and all(isinstance(line, Saying) for line in error.args):
        return "\n".join(words.said(line) for line in error.args)
    return str(error)
