"""What an error says to a person, in their language. Rooms below give codes; the sentences stand in the catalogues."""

from __future__ import annotations

from musclewood.games.kit.words import Words
from musclewood.signal.errors import SensorError


def told(words: Words, error: Exception) -> str:
    """What is wrong and what to do."""
    if isinstance(error, SensorError):
        return f"{words(f'trouble.{error.trouble}')} {words(f'trouble-advice.{error.trouble}')}"
    return str(error)
