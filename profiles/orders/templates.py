"""The prescriptions that a therapist starts from, each marked to be adjusted for the patient."""

from __future__ import annotations

from importlib.resources import files

from musclewood.profiles.orders.prescription import Prescription, parse


def template_names() -> list[str]:
    """The templates' names, such as 'ankle-after-sprain', in alphabetical order."""
    folder = files("musclewood.assets") / "prescriptions"
    return sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))


def template_text(name: str) -> str:
    """A template as its author wrote it, comments included. Raises KeyError if there is none of that name."""
    if name not in template_names():
        raise KeyError(name)
    return (files("musclewood.assets") / "prescriptions" / f"{name}.toml").read_text(encoding="utf-8")


def template(name: str) -> Prescription:
    """A template, read and checked."""
    return parse(template_text(name))
