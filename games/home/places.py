"""Where a letter may lie: the usual folders, and sticks that are put in. Only looks; opens no file, changes nothing."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from musclewood.profiles.exchange.folder import TO_CLINIC, TO_HOME

Kind = Literal["letter", "exchange", "folder"]
# Where systems put what is plugged in: udisks, its newer place, macOS.
MEDIA = ("/media", "/run/media", "/Volumes")
MOST_ENTRIES = 2000  # of a folder; a downloads folder may hold any number, and nobody reads more. Our choice.
LARGEST_LETTER_BYTES = 1_000_000


@dataclass(frozen=True)
class Entry:
    """Something to choose. `name` is the file's, or the key of its words where `usual`."""

    path: Path
    kind: Kind
    name: str
    usual: bool = False


def usual_places(home: Path, media: Sequence[str] = MEDIA) -> list[Entry]:
    """Sticks first, with their exchange folders; then where downloads lie, the desktop, and the user's folder."""
    found = [entry for stick in sticks(media) for entry in _of_stick(stick)]
    for key in ("Downloads", "Desktop"):
        folder = _user_folder(home, key)
        if folder.is_dir():
            found.append(Entry(folder, "folder", f"pick.{key.lower()}", usual=True))
    return [*found, Entry(home, "folder", "pick.home", usual=True)]


def look_into(folder: Path) -> list[Entry]:
    """What in a folder may be meant: exchange folders, then letters, the newest first, then other folders. None if it
    cannot be read."""
    letters: list[tuple[float, Entry]] = []
    folders: list[Entry] = []
    if is_exchange(folder):
        folders.append(Entry(folder, "exchange", folder.name))
    for entry in _entries(folder):
        path = Path(entry.path)
        try:
            if entry.is_dir():
                folders.append(Entry(path, "exchange" if is_exchange(path) else "folder", entry.name))
            elif entry.name.lower().endswith(".toml") and entry.stat().st_size <= LARGEST_LETTER_BYTES:
                letters.append((entry.stat().st_mtime, Entry(path, "letter", entry.name)))
        except OSError:
            continue
    newest = [entry for _, entry in sorted(letters, key=lambda one: -one[0])]
    named = sorted(folders, key=lambda one: one.name.casefold())
    return [
        *(one for one in named if one.kind == "exchange"),
        *newest,
        *(one for one in named if one.kind == "folder"),
    ]


def sticks(media: Sequence[str] = MEDIA) -> list[Path]:
    """What is plugged in and can be read."""
    if sys.platform == "win32":
        drives = (Path(f"{letter}:\\") for letter in "DEFGHIJKLMNOPQRSTUVWXYZ")
        return [drive for drive in drives if _readable(drive)]
    found = []
    for place in media:
        for entry in _entries(Path(place)):
            inside = Path(entry.path)
            if os.path.ismount(inside):
                found.append(inside)
            else:  # a folder for each user, with the sticks in it
                found += [Path(one.path) for one in _entries(inside) if one.is_dir()]
    return sorted({stick for stick in found if _readable(stick)})


def exchange_on_a_stick(media: Sequence[str] = MEDIA) -> Path | None:
    """The exchange folder on what is plugged in: the stick itself, or a folder on it."""
    for stick in sticks(media):
        for entry in _of_stick(stick):
            if entry.kind == "exchange":
                return entry.path
    return None


def exchange_besides(named: str, media: Sequence[str] = MEDIA) -> list[Path]:
    """What somebody brought back on a stick, beside the folder that the clinic named."""
    stick = exchange_on_a_stick(media)
    return [stick] if stick is not None and str(stick) != named else []


def is_exchange(folder: Path) -> bool:
    """Whether a clinic and a home use this folder to exchange letters."""
    return (folder / TO_HOME).is_dir() or (folder / TO_CLINIC).is_dir()


def _of_stick(stick: Path) -> list[Entry]:
    name = stick.name or str(stick)
    exchanges = [Entry(stick, "exchange", name)] if is_exchange(stick) else []
    for entry in _entries(stick):
        if entry.is_dir() and is_exchange(Path(entry.path)):
            exchanges.append(Entry(Path(entry.path), "exchange", entry.name))
    return [*exchanges, Entry(stick, "folder", name)]


def _entries(folder: Path) -> Iterator[os.DirEntry[str]]:
    """What can be seen in a folder; nothing of one that is away or closed."""
    try:
        with os.scandir(folder) as entries:
            for number, entry in enumerate(entries):
                if number >= MOST_ENTRIES:
                    return
                if not entry.name.startswith((".", "$")):
                    yield entry
    except OSError:
        return


def _readable(folder: Path) -> bool:
    return os.access(folder, os.R_OK | os.X_OK) and folder.is_dir()


def _user_folder(home: Path, key: str) -> Path:
    """A folder by its name in this user's language, where the desktop says it (user-dirs of freedesktop.org)."""
    wanted = {"Downloads": "XDG_DOWNLOAD_DIR", "Desktop": "XDG_DESKTOP_DIR"}[key]
    try:
        lines = (home / ".config" / "user-dirs.dirs").read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        lines = []
    for line in lines:
        name, _, value = line.partition("=")
        if name.strip() == wanted:
            return Path(value.strip().strip('"').replace("$HOME", str(home)))
    return home / key
