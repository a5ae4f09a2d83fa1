"""What WCAG asks of letters on their ground."""

from __future__ import annotations

from musclewood.games.kit.palette import Colour, luminance


def contrast(first: Colour, second: Colour) -> float:
    """Contrast ratio 1-21 of two sRGB colours (WCAG 2.2, definition)."""
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
