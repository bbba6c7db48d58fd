"""How figures and sentences are printed."""

from __future__ import annotations

from typing import Any

LARGEST_WHOLE = 1e15
"""Whole numbers below this are written out."""

NEAR = 1e-3
"""Two figures that differ by less than this share are printed with more digits, so that they differ in print."""


def coarse(value: float) -> str:
    """A number with four figures, and all of a whole number, never in powers of ten.

    Figures that would then look alike are written with :func:`fine`: see :data:`NEAR`.
    """
    if abs(value) <= LARGEST_WHOLE and value == int(value):
        return str(int(value))
    text = f"{value:.4g}"
    return text if "e" not in text else _long(value, 4)


def fine(value: float) -> str:
    """A number with twelve figures, never in powers of ten."""
    text = f"{value:.12g}"
    return text if "e" not in text else _long(value, 12)


def _long(value: float, figures: int) -> str:
    from decimal import Decimal

    return f"{Decimal(f'{value:.{figures}g}'):f}"


def close_call(a: Any, b: Any) -> bool:
    """Whether two different figures would be hard to tell apart in print."""
    return isinstance(a, int | float) and isinstance(b, int | float) and a != b and abs(a - b) < NEAR * abs(a)


def sentence(text: str) -> str:
    """A text that begins as a sentence does."""
    return text[:1].upper() + text[1:]
