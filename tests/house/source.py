"""The house's own code, read once for all who look at its shape."""

from __future__ import annotations

import ast
import gc
from functools import cache
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[2]


def written_down(text: str) -> tuple[ast.AST, ...]:
    """Everything in a piece of code."""
    return tuple(ast.walk(ast.parse(text)))


@cache
def nodes(module: Path) -> tuple[ast.AST, ...]:
    """Everything in a module, the module itself first."""
    collecting = gc.isenabled()
    gc.disable()  # half a million nodes that all stay: looking through them for rubbish takes longer than reading them
    try:
        return written_down(module.read_text(encoding="utf-8"))
    finally:
        if collecting:
            gc.enable()
