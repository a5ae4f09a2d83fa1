"""Who sits in front: their settings, the words in their language, letters in their size,
colours with their contrast."""

from musclewood.games.kit.palette import Colour, palette
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.typeface import Typeface
from musclewood.games.kit.words import Words


class Theme:
    """Everything a screen needs to know about its reader; made anew whenever a setting changes."""

    def __init__(self, settings: Settings | None = None) -> None:
        self.settings = settings or Settings()
        self.words = Words(self.settings.language)
        self.letters = Typeface(self.settings.text_scale)
        paper = palette().paper
        plain = self.settings.high_contrast
        self.ink: Colour = paper["plain-ink"] if plain else paper["ink"]
        self.slip: Colour = paper["plain-slip"] if plain else paper["slip"]
        self.lamp: Colour = paper["plain-slip"] if plain else paper["lamp"]

    @property
    def still(self) -> bool:
        """Whether only what the muscle does may move."""
        return self.settings.reduced_motion
