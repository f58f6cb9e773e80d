"""Sounds held against scores they do not play, most of them in the same key."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from alignment_items import Item, excerpt, perform, read_work
from alignment_sets import (
    FITTING,
    FITTING_HARD,
    FRESH_HARD,
    FRESH_ORDER,
    FRESH_STRAIGHT,
    SEEN,
)

from auditor.alignment.aligning import timeline_of
from auditor.errors import AlignmentError
from auditor.sound.features import listen


@dataclass(frozen=True, slots=True)
class Pair:
    """A sound and a score; the score's first bars, or some from `first` on."""

    item: Item
    work: str
    bars: int = 110
    first: int = 0


def tried(pairs: Sequence[Pair], folder: Path) -> Iterator[tuple[str, str, str]]:
    """Yield the name of each pair, ``taken`` or ``refused``, and the figures or sentence."""
    for pair in pairs:
        score = excerpt(read_work(pair.work), pair.bars, pair.first)
        features = listen(perform(pair.item, folder).sound.samples)
        name = f"{pair.item.name} with {pair.work}"
        try:
            fit = dict(timeline_of(score, features).fit)
        except AlignmentError as error:
            yield name, "refused", str(error)
        else:
            yield name, "taken", str({k: round(v, 3) for k, v in fit.items()})


def _by_work(items: Sequence[Item]) -> dict[str, Item]:
    return {item.work: item for item in items}


def _pairs(items: dict[str, Item], table: Sequence[tuple[str, str]]) -> tuple[Pair, ...]:
    return tuple(Pair(items[a], b) for a, b in table)


FITTING_PAIRS = (
    *_pairs(
        _by_work([*FITTING, *FITTING_HARD]),
        [
            ("mozart/k156/movement1", "mozart/k80/movement1"),
            ("mozart/k80/movement1", "mozart/k156/movement1"),
            ("haydn/opus1no1/movement2", "mozart/k458/movement1"),
            ("haydn/opus74no1/movement3", "haydn/opus74no1/movement1"),
            ("haydn/opus74no1/movement1", "haydn/opus74no1/movement3"),
            ("schumann_robert/opus41no1/movement1", "schumann_robert/opus41no1/movement3"),
            ("handel/rinaldo/Lascia_chio_pianga", "schumann_robert/opus41no1/movement3"),
            ("bach/bwv69.6", "mozart/k155/movement2"),
            ("mozart/k155/movement2", "mozart/k156/movement1"),
            ("beethoven/opus18no4", "haydn/opus74no1/movement1"),
            ("weber/concertino_clarinet", "mozart/k458/movement2"),
        ],
    ),
    *_pairs(
        _by_work(SEEN),
        [
            ("beethoven/opus59no1/movement3", "schumann_robert/opus41no1/movement3"),
            ("beethoven/opus59no2/movement1", "haydn/opus74no1/movement2"),
            ("mozart/k458/movement1", "haydn/opus1no1/movement2"),
            ("beethoven/opus59no3/movement3", "haydn/opus74no1/movement1"),
            ("beach/prayer_of_a_tired_child", "verdi/laDonnaEMobile"),
        ],
    ),
)  # fmt: skip

# Same work and key (first and last movements, minuets), same key, chorales and madrigals
# of one mode, and the same sounds with any other score.
FRESH_PAIRS = _pairs(
    _by_work([*FRESH_ORDER, *FRESH_HARD, *FRESH_STRAIGHT]),
    [
        ("beethoven/opus18no1/movement1", "beethoven/opus18no1/movement4"),
        ("beethoven/opus18no1/movement1", "beethoven/opus18no1/movement3"),
        ("beethoven/opus18no1/movement3", "beethoven/opus18no1/movement1"),
        ("beethoven/opus18no1/movement4", "beethoven/opus59no1/movement1"),
        ("beethoven/opus59no1/movement1", "beethoven/opus59no1/movement4"),
        ("beethoven/opus59no1/movement4", "beethoven/opus59no1/movement1"),
        ("beethoven/opus59no2/movement3", "beethoven/opus59no2/movement1"),
        ("beethoven/opus59no2/movement4", "beethoven/opus59no2/movement3"),
        ("beethoven/opus59no3/movement1", "beethoven/opus59no3/movement4"),
        ("beethoven/opus59no3/movement4", "beethoven/opus59no3/movement1"),
        ("beethoven/opus59no3/movement4", "haydn/opus74no1/movement4"),
        ("beethoven/opus74", "beethoven/opus59no2/movement4"),
        ("beethoven/opus132", "schumann_robert/opus41no1/movement4"),
        ("beethoven/opus133", "mozart/k458/movement4"),
        ("beethoven/opus18no3", "mozart/k155/movement1"),
        ("haydn/opus1no1/movement1", "haydn/opus1no1/movement5"),
        ("haydn/opus1no1/movement1", "haydn/opus1no1/movement4"),
        ("haydn/opus1no1/movement4", "haydn/opus1no1/movement2"),
        ("haydn/opus1no1/movement5", "haydn/opus1no1/movement1"),
        ("haydn/opus1no1/movement2", "haydn/opus1no1/movement4"),
        ("haydn/opus74no1/movement4", "haydn/opus74no1/movement1"),
        ("haydn/opus74no1/movement4", "beethoven/opus59no3/movement1"),
        ("mozart/k155/movement1", "mozart/k155/movement3"),
        ("mozart/k155/movement3", "mozart/k155/movement1"),
        ("mozart/k156/movement1", "mozart/k156/movement3"),
        ("mozart/k156/movement3", "mozart/k156/movement1"),
        ("mozart/k156/movement4", "mozart/k156/movement1"),
        ("mozart/k156/movement4", "mozart/k80/movement2"),
        ("mozart/k80/movement2", "mozart/k156/movement4"),
        ("mozart/k80/movement3", "mozart/k80/movement4"),
        ("mozart/k458/movement3", "beethoven/opus74"),
        ("mozart/k458/movement4", "mozart/k458/movement1"),
        ("mozart/k458/movement4", "haydn/opus1no1/movement5"),
        ("schumann_clara/opus17/movement3", "mozart/k156/movement3"),
        ("schumann_robert/opus41no1/movement2", "schumann_robert/opus41no1/movement4"),
        ("schumann_robert/opus41no1/movement4", "schumann_robert/opus41no1/movement2"),
        ("schumann_robert/opus41no1/movement5", "beethoven/opus132"),
        ("monteverdi/madrigal.4.10", "monteverdi/madrigal.4.11"),
        ("monteverdi/madrigal.4.10", "monteverdi/madrigal.3.1"),
        ("beethoven/opus59no1/movement2", "haydn/opus1no1/movement1"),
    ],
)
