"""The house keeps its shape: rooms, imports, packaging."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.house.source import HOUSE, nodes

ROOMS = ("signal", "profiles", "games", "assets")
# games may look into the other rooms; the others keep to themselves.
MAY_IMPORT = {
    "signal": {"signal", "assets"},
    "profiles": {"profiles", "assets"},
    "games": {"games", "profiles", "signal", "assets"},
    "assets": set(),
}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", *ROOMS, "tests"}


def modules(room: str) -> list[Path]:
    return sorted((HOUSE / room).rglob("*.py"))


@cache
def imported_names(module: Path) -> tuple[str, ...]:
    return tuple(_imported_names(module))


def _imported_names(module: Path) -> Iterator[str]:
    for node in nodes(module):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: imports are absolute"
            assert node.module is not None
            yield node.module


def tracked_files() -> list[str]:
    listing = subprocess.run(["git", "ls-files"], cwd=HOUSE, capture_output=True, text=True, check=False)
    if listing.returncode != 0:
        pytest.skip("not a git checkout")
    return listing.stdout.splitlines()


def test_the_top_level_holds_what_was_agreed_and_nothing_else() -> None:
    visible = {name.split("/")[0] for name in tracked_files() if not name.startswith(".")}
    assert visible == TOP_LEVEL


@pytest.mark.parametrize("room", ROOMS)
def test_rooms_import_only_in_the_agreed_direction(room: str) -> None:
    for module in modules(room):
        for name in imported_names(module):
            if name.startswith("musclewood."):
                assert name.split(".")[1] in MAY_IMPORT[room], f"{module.relative_to(HOUSE)} imports {name}"


def test_signal_and_profiles_know_no_screen() -> None:
    for module in modules("signal") + modules("profiles"):
        assert not any(name.split(".")[0] == "pygame" for name in imported_names(module)), module


def test_workshop_rules_know_no_screen() -> None:
    for module in (HOUSE / "games" / "workshops").rglob("rules.py"):
        assert not any(name.split(".")[0] == "pygame" for name in imported_names(module)), module


def test_the_signal_room_never_shadows_pythons_own_signal() -> None:
    assert not (HOUSE / "signal" / "__init__.py").exists()
    code = "import signal, asyncio; assert signal.SIGINT"
    subprocess.run([sys.executable, "-c", code], cwd=HOUSE, check=True)


def test_nothing_under_tests_is_a_package() -> None:
    assert not list((HOUSE / "tests").rglob("__init__.py"))


def test_no_code_file_is_named_like_a_standard_library_module() -> None:
    names = {module.stem for room in ROOMS for module in modules(room)} - {"__init__", "__main__"}
    assert not names & sys.stdlib_module_names


def test_every_sub_package_is_listed_for_the_wheel() -> None:
    project = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))
    listed = set(project["tool"]["setuptools"]["packages"])
    workshops = HOUSE / "games" / "workshops"
    with_code = {
        "musclewood." + ".".join(module.parent.relative_to(HOUSE).parts)
        for room in ROOMS
        for module in modules(room)
        if module.parent.parent != workshops
    }
    assert with_code == listed
    # Each workshop travels as data of the folder of all of them, so that a new one needs no line here.
    assert project["tool"]["setuptools"]["package-data"]["musclewood.games.workshops"] == ["*/*.py"]
    assert not list(workshops.glob("*/*/*.py")), "workshops hold no folders with code"
    for room in ROOMS:
        for module in modules(room):
            if module.parent != HOUSE / "signal":
                assert (module.parent / "__init__.py").exists(), module.parent


def test_the_wheel_holds_every_module() -> None:
    """Asked of the build tool itself, which takes the workshops by a pattern."""
    pytest.importorskip("setuptools")
    code = (
        "from setuptools import Distribution\n"
        "whole = Distribution({'script_name': 'setup.py'})\n"
        "whole.parse_config_files(['pyproject.toml'])\n"
        "step = whole.get_command_obj('build_py')\n"
        "step.ensure_finalized()\n"
        "found = [name for _, place, _, names in step.data_files for name in (f'{place}/{one}' for one in names)]\n"
        "print('\\n'.join([*found, *(path for _, _, path in step.find_all_modules())]))\n"
    )
    told = subprocess.run([sys.executable, "-c", code], cwd=HOUSE, check=True, capture_output=True, text=True)
    packed = {(HOUSE / line).resolve() for line in told.stdout.splitlines()}
    assert {module for room in ROOMS for module in modules(room)} <= packed


def test_there_is_no_regular_parent_package() -> None:
    assert not (HOUSE / "musclewood").exists()


def test_type_checkers_find_the_rooms_under_their_import_name() -> None:
    for room in ROOMS:
        link = HOUSE / ".typing" / "musclewood" / room
        assert link.is_symlink()
        assert link.resolve() == HOUSE / room


def test_modules_stay_a_few_pages_long() -> None:
    too_long = {
        str(m.relative_to(HOUSE)): n
        for room in ROOMS
        for m in modules(room)
        if (n := len(m.read_text(encoding="utf-8").splitlines())) > 450
    }
    assert not too_long


def named_in(text: str) -> set[str]:
    """Modules, data files and folders that a text names in `code`, and the steps of its ways; no patterns like NAME."""
    quoted = re.findall(r"`([a-z][\w/.-]*(?:\.py|\.toml|/))`", text)
    ways = [
        step
        for way in re.findall(r"^```\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
        for step in re.findall(r"[a-z_]+/[a-z_]+", way)
    ]
    return {name for name in (*quoted, *ways) if not re.search("[A-Z]", name)}


def strangers(names: set[str]) -> set[str]:
    """Names that end no path of the house, with or without the ending of a module."""
    there = {f"/{path}" for path in tracked_files()}
    there |= {f"{parent}/" for path in there for parent in Path(path).parents}
    return {
        name for name in names if not any(path.endswith((f"/{name}", f"/{name}.py", f"/{name}/")) for path in there)
    }


def test_the_guide_for_developers_names_what_is_there() -> None:
    guide = (HOUSE / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## What is durable when")[0]
    names = named_in(guide)
    assert {"signal/stream/chain.py", "orders/draft", "craft.py", "games/workshops/kiln/"} <= names
    assert not strangers(names)
    assert strangers({"games/desk/form_model.py", "orders/drafts"}) == {"games/desk/form_model.py", "orders/drafts"}


def test_the_readme_commands_are_single_lines() -> None:
    readme = (HOUSE / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"```sh\n(.*?)```", readme, re.DOTALL)
    assert any("musclewood demo" in command for command in commands)
    assert any("pytest" in command for command in commands)
    for command in commands:
        assert len(command.strip().splitlines()) == 1
