"""Where a patient's files live on this computer."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from musclewood.profiles.disk.files import close_to_others, make_folder, sweep
from platformdirs import user_data_path

VARIABLE = "MUSCLEWOOD_HOME"


@dataclass(frozen=True)
class Home:
    """One folder with everything in it: prescriptions, journals, hand-overs that wait, recordings."""

    root: Path

    @classmethod
    def find(cls) -> Home:
        """The folder named by MUSCLEWOOD_HOME, else the system's usual place for a program's data."""
        chosen = os.environ.get(VARIABLE, "").strip()
        return cls(Path(chosen).expanduser() if chosen else user_data_path("musclewood", appauthor=False))

    @property
    def prescription_path(self) -> Path:
        """The one prescription of a home with one patient; a file put here by hand works as well."""
        paths = self.prescription_paths()
        return paths[0] if len(paths) == 1 else self.root / "prescription.toml"

    def prescription_paths(self) -> tuple[Path, ...]:
        """Every prescription in force here, one a patient. More than one means that somebody has to say who plays."""
        single = self.root / "prescription.toml"
        kept = tuple(sorted(self.prescriptions.glob("*.toml"))) if self.prescriptions.is_dir() else ()
        return kept + ((single,) if single.exists() else ())

    @property
    def prescriptions(self) -> Path:
        """Prescriptions that were let in, by patient."""
        return self.root / "prescriptions"

    def prescription_of(self, patient: str) -> Path:
        return self.prescriptions / f"{_safe(patient)}.toml"

    def patients(self) -> tuple[str, ...]:
        """The codes of those whose prescription was let in here."""
        return tuple(path.stem for path in self.prescription_paths() if path.parent == self.prescriptions)

    @property
    def revisions(self) -> Path:
        """Every revision that was ever in force, so that the past is compared with what was ordered then."""
        return self.root / "revisions"

    def revision_path(self, patient: str, revision: int) -> Path:
        return self.revisions / f"{_safe(patient)}-{revision:04d}.toml"

    def journal_path(self, patient: str) -> Path:
        return self.root / "journals" / f"{_safe(patient)}.sqlite"

    def pads_path(self, patient: str) -> Path:
        """Where the patient's pads lay last time."""
        return self.root / "pads" / f"{_safe(patient)}.json"

    @property
    def outbox(self) -> Path:
        """Hand-overs for the therapist; any sync tool may carry this folder."""
        return self.root / "outbox"

    @property
    def trust(self) -> Path:
        """What is remembered of clinics, and the keys that sign hand-overs."""
        return self.root / "trust"

    @property
    def recordings(self) -> Path:
        return self.root / "recordings"

    @property
    def settings_path(self) -> Path:
        return self.root / "settings.toml"

    def create(self) -> None:
        """Make the folders, for this user alone, and remove what killed writes left in them. Raises OSError."""
        own = (self.prescriptions, self.root / "journals", self.revisions, self.outbox, self.recordings, self.trust)
        for folder in (self.root, *own):
            make_folder(folder)
        close_to_others(own)
        sweep((self.root, *own))


def _safe(patient: str) -> str:
    """A clinic code as a file name; refuses what could lead out of the folder."""
    if not re.fullmatch(r"[A-Z]{2,4}-[0-9]{3,5}", patient):
        raise ValueError(f"{patient!r} is no clinic code such as 'HB-0042'")
    return patient
