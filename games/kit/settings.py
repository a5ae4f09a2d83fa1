"""What a reader chose for eyes, ears and hands; kept in a small TOML file beside the journal."""

import locale
import os
import tomllib
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Literal, get_args

import tomli_w
from musclewood.games.kit.words import LANGUAGES
from musclewood.profiles.disk.files import write_whole

TEXT_SCALES = (1.0, 1.2, 1.4)
VOLUMES = (0, 1, 2, 3, 4, 5)  # of sounds; 0 is off
LOUDEST = VOLUMES[-1]
ReadAloud = Literal["unasked", "on", "off"]


@dataclass(frozen=True)
class Settings:
    """text_scale multiplies every letter; hand says on which side the large controls lie; muscle_leads: whether the
    sensor is listened to outside sessions too, so that nothing but the muscle is needed; one_switch: one key, button or
    click does everything, short for the next and long to choose."""

    text_scale: float = 1.0
    reduced_motion: bool = False
    volume: int = 4
    read_aloud: ReadAloud = "unasked"
    high_contrast: bool = False
    language: str = "en"
    hand: str = "right"
    full_screen: bool = True
    cautions_for: tuple[str, ...] = ()  # orders that the cautions were confirmed for, one a patient
    muscle_leads: bool = False
    one_switch: bool = False
    plain_evening: bool = False  # without what the village wishes for

    def changed(self, **values: object) -> "Settings":
        """A copy with some choices replaced."""
        return replace(self, **values)  # type: ignore[arg-type]

    def confirmed(self, order: str) -> "Settings":
        """With the cautions confirmed for this order, which starts with its patient's code; an earlier one is
        forgotten."""
        patient = order.split(" ")[0]
        others = tuple(other for other in self.cautions_for if other.split(" ")[0] != patient)
        return self.changed(cautions_for=(*others, order))


ALLOWED: dict[str, tuple[object, ...]] = {
    "text_scale": TEXT_SCALES,
    "volume": VOLUMES,
    "read_aloud": get_args(ReadAloud),
    "language": tuple(LANGUAGES),
    "hand": ("left", "right"),
}


def load(path: Path) -> Settings:
    """Choices kept at `path`. A missing or broken file, or a broken entry, reads as the usual choice:
    nobody should be kept from exercising by a settings file."""
    try:
        table = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return Settings()
    if table.get("sound") is False:  # an earlier version knew on and off
        table.setdefault("volume", 0)
    kept = {field.name: table[field.name] for field in fields(Settings) if _is_allowed(field.name, table)}
    if "cautions_for" in kept:
        kept["cautions_for"] = tuple(kept["cautions_for"])
    return Settings(**kept)


def first_choices() -> Settings:
    """What a home begins with before anything was chosen: the system's own language, where it is spoken here."""
    named = (os.environ.get(name) for name in ("LC_ALL", "LC_MESSAGES", "LANG"))  # POSIX, in this order
    language = (next(filter(None, named), None) or locale.getlocale()[0] or "")[:2].lower()
    return Settings(language=language) if language in LANGUAGES else Settings()


def _is_allowed(name: str, table: dict[str, object]) -> bool:
    if name in ALLOWED:
        value = table.get(name)
        return not isinstance(value, bool) and value in ALLOWED[name]
    if name == "cautions_for":
        value = table.get(name)
        return isinstance(value, list) and all(isinstance(order, str) for order in value)
    return isinstance(table.get(name), bool)


def save(settings: Settings, path: Path) -> None:
    """Keep the choices; the old file stays whole until the new one is complete. Raises StorageError."""
    write_whole(path, tomli_w.dumps(asdict(settings)).encode())
