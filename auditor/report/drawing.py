"""Boxes, lines and words of the drawings that stand in files of their own."""

from __future__ import annotations

from html import escape


def line(kind: str, a: tuple[float, float], b: tuple[float, float]) -> str:
    """A straight line between two places in pixels; `kind` is its class."""
    (x1, y1), (x2, y2) = a, b
    ends = f'x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"'
    return f'<line class="{kind}" {ends}/>'


def box(kind: str, x: float, y: float, width: float, height: float) -> str:
    """A rectangle in pixels; `kind` is its class."""
    size = f'width="{width:.1f}" height="{height:.1f}"'
    return f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" {size}/>'


def text(x: float, y: float, words: str, anchor: str) -> str:
    """Words at a place in pixels that is their start, middle or end."""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
