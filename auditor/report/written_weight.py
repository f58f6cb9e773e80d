"""Register weight as written: how much the score alone puts into each register, bar by bar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.texture import REGISTERS, register_weight
from auditor.report import drawing
from auditor.report.tables import Row, Table
from auditor.report.weight import Ground, ground, most_of
from auditor.score.notes import Score

# Registers of `auditor.craft.texture` in the words of pitch names (middle C is C4).
SPANS = ("below C3", "C3 to C4", "C4 to C5", "C5 to C6", "C6 and above")
WHAT = (
    "Players sounding in each register, on average over the bar: one at mf counts 1, each "
    "mark louder half as much again"
)
_FIGURE = "{:.1f} players at mf"
# Pixels: width of all bars, height of a register, and what lies around them.
_WIDTH, _ROW, _GAP = 880.0, 54.0, 6.0
_LEFT, _TOP, _BELOW, _RIGHT = 120.0, 66.0, 46.0, 24.0
_STYLE = """
text { font: 12px sans-serif; fill: #000 }
.steps { fill: #555; stroke: none }
.frame { fill: none; stroke: #000; stroke-width: 0.5 }
.grid { stroke: #ccc; stroke-width: 0.5 }
"""


@dataclass(frozen=True, slots=True)
class WrittenWeight:
    """The weight of every register in every bar, the page read once through.

    Parameters
    ----------
    bars
        Printed bar numbers.
    registers
        For each register, the lowest first, its weight in every bar.
    """

    bars: tuple[str, ...]
    registers: tuple[tuple[float, ...], ...]


def written_weight(score: Score) -> WrittenWeight:
    """Weigh the registers of a score; repeats are read once."""
    page = Page(score, CraftLimits())
    weight = register_weight(page)
    return WrittenWeight(
        tuple(bar.number for bar in page.bars),
        tuple(tuple(float(v) for v in column) for column in weight.T),
    )


def weight_rows(weight: WrittenWeight) -> tuple[Ground, ...]:
    """Steps of every register, the highest first, heights of the heaviest of all."""
    most = max((most_of(column) for column in weight.registers), default=1.0)
    named = zip(REGISTERS, SPANS, weight.registers, strict=True)
    rows = [ground(f"{name}, {span}", column, most, _FIGURE) for name, span, column in named]
    return tuple(reversed(rows))


def weight_table(weight: WrittenWeight) -> Table:
    """One row a bar, one column a register, the lowest first."""
    rows: tuple[Row, ...] = tuple(
        (bar, *(column[i] for column in weight.registers)) for i, bar in enumerate(weight.bars)
    )
    return Table("register-weight", ("bar", *REGISTERS), rows)


def weight_ticks(weight: WrittenWeight) -> tuple[tuple[int, str], ...]:
    """Bars whose number stands beneath the picture: index and number, 12 to 24 of them."""
    every = max(1, round(len(weight.bars) / 16))
    return tuple((i, bar) for i, bar in enumerate(weight.bars) if i % every == 0)


def weight_svg(weight: WrittenWeight, title: str) -> str:
    """The picture as a file of its own, black on white."""
    high = _TOP + len(REGISTERS) * (_ROW + _GAP) + _BELOW
    wide = _LEFT + _WIDTH + _RIGHT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {high:.0f}" '
        f'width="{wide:.0f}" height="{high:.0f}" role="img" '
        f'aria-labelledby="weight-title weight-said">',
        f'<title id="weight-title">Register weight of {escape(title)}</title>',
        f'<desc id="weight-said">{escape(_said(weight))}</desc>',
        f"<style>{_STYLE}</style>",
        f'<rect width="{wide:.0f}" height="{high:.0f}" fill="#fff"/>',
        drawing.text(_LEFT, 20, f"{title}: what the page puts into each register", "start"),
        drawing.text(_LEFT, 38, f"{WHAT}.", "start"),
        *_drawn(weight),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _said(weight: WrittenWeight) -> str:
    return "; ".join(f"{row.name}: {row.words}" for row in weight_rows(weight))


def _drawn(weight: WrittenWeight) -> Iterator[str]:
    count = max(1, len(weight.bars))
    foot = _TOP + len(REGISTERS) * (_ROW + _GAP)
    for i, number in weight_ticks(weight):
        x = _LEFT + _WIDTH * i / count
        yield drawing.line("grid", (x, _TOP), (x, foot))
        yield drawing.text(x, foot + 16, number, "start")
    yield drawing.text(_LEFT + _WIDTH / 2, foot + 36, "bar", "middle")
    for k, row in enumerate(weight_rows(weight)):
        y = _TOP + k * (_ROW + _GAP)
        name, span = row.name.split(", ")
        yield drawing.text(_LEFT - 10, y + _ROW / 2 - 2, name, "end")
        yield drawing.text(_LEFT - 10, y + _ROW / 2 + 14, span, "end")
        scale = f"translate({_LEFT:.1f} {y:.1f}) scale({_WIDTH / count:.4f} {_ROW:.1f})"
        yield f'<path class="steps" transform="{scale}" d="{row.path}"/>'
        yield drawing.box("frame", _LEFT, y, _WIDTH, _ROW)
