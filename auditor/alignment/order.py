"""Which bars are really played, in which order and roughly when.

Two searches over the bars of the page. The first, on chroma and at any tempo, says roughly
where the music is; the second knows from it how fast each bar is taken and which bins the
sound favours, and can therefore tell bars by their very notes. In both, what the page asks
for is cheap, any bar end may jump to any bar start for a price, and what is not in the
score goes to a filler state.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.closer import closer, contrast
from auditor.alignment.expected import Events, chroma_rows
from auditor.alignment.page import Page
from auditor.alignment.path import unit_rows
from auditor.alignment.search import NEVER, Heard, Prices, Walk, heard, quiet, reading, search
from auditor.alignment.visits import Order, Spans, with_pauses
from auditor.score.notes import Score
from auditor.sound.features import Features

# Prices in wholly mismatched frames of 0.2 s. On 38 made performances, nine of them with
# cuts, extra passages or repeats left out, 6 with an uneven price of 0.16 to 0.2 put no bar
# wrong; 8 missed one extra passage of eight bars, 10 also two cuts of nine.
_JUMP = 6.0
_LOOP = 0.5
_UNEVEN = 0.18
# A walk straight through is believed unless another order explains the sound better by
# this much for each place where it leaves the page's order: where bars repeat, chroma
# alone cannot tell one pass from the next.
_DEPARTURE = 1.0
# A reading that stands still or races to make the page's order fit pays this an octave of
# tempo, beyond what a fermata does (2.5 times), against this many bars on both sides.
_HALTING, _FERMATA, _AROUND = 4.0, 1.3, 4
# Strange sound in the place of bars left out, as long as they are within this factor.
_EXCHANGE = 1.3
# Above what right scores cost on the mean (0.09 to 0.21 a frame).
_FILLER = 0.36
# Stresses the strong classes, which tell one chord from the next.
_SHARPER = 2.0
_SCALES = (1.0, 0.72, 1.38)
_MANY_FRAMES = 3000

F64 = NDArray[np.float64]


def find_order(score: Score, notes: Events, features: Features, foreign: Spans = ()) -> Order:
    """Search for the order of bars that explains the sound best.

    `foreign` are stretches in seconds that are known not to be in the score.
    """
    page, sound = Page(score), heard(features, foreign)
    order = _found(page, notes, sound)
    order = replace(order, contrast=contrast(page, notes, sound, order))
    return with_pauses(order, sound.kept, sound.fps)


def _found(page: Page, notes: Events, sound: Heard) -> Order:
    sounding = np.flatnonzero(~sound.silent & sound.chroma.any(axis=1))
    length = sounding[-1] - sounding[0] + 1 if sounding.size else len(sound.chroma)
    # The page's tempo marks may be missing or not be followed: one tempo is tried too.
    sizes = [
        bar_s * (scale * float(length) / sound.fps / max(float(bar_s.sum()), 1e-3))
        for bar_s in (page.nominal_s, page.even_s)
        for scale in _SCALES
    ]
    found = {}
    for straight in (True, False):
        walks = [
            _search(page, notes, sound, sized, straight=straight)
            for sized in _likely(page, notes, sound, sizes, straight=straight)
        ]
        walk = min(walks, key=lambda walk: walk.price)
        found[straight] = walk.price, reading(page, sound, walk)
    if not found[False][1].visits:
        # The search gave the sound up as foreign: let the gate judge a straight reading.
        walks = [
            _search(page, notes, sound, sized, straight=True, filler=NEVER) for sized in sizes
        ]
        return reading(page, sound, min(walks, key=lambda walk: walk.price))
    return closer(page, notes, sound, _chosen(page, *found[True], *found[False]))


def _chosen(page: Page, price: float, straight: Order, other: float, free: Order) -> Order:
    """Choose between the page's order and another."""
    if _only_exchanges(free, straight):
        return straight
    gain = other + _DEPARTURE * free.departures - price
    gain += _HALTING * (_halts(page, free) - _halts(page, straight))
    return straight if gain >= 0.0 else free


def _likely(
    page: Page, notes: Events, sound: Heard, sizes: list[F64], *, straight: bool
) -> list[F64]:
    """Tempos worth a search: all of them, or for a long sound the best at half the rate."""
    if len(sound.chroma) < _MANY_FRAMES:
        return sizes
    rough = sound.halved()
    prices = [_search(page, notes, rough, sized, straight=straight).price for sized in sizes]
    return [sizes[int(np.argmin(prices))]]


def find_transposition(
    score: Score, notes: Events, features: Features
) -> tuple[int, float, float]:
    """Find the semitones by which the sound lies above the score, and how well that fits.

    Returns
    -------
    int, float, float
        -6 to 5; mean coarse cost a frame so transposed, and what is gained by it.
    """
    page, sound = Page(score), heard(features)
    length = float(sound.kept[-1] + 1) / sound.fps
    sizes = [b * (length / max(float(b.sum()), 1e-3)) for b in (page.nominal_s, page.even_s)]
    costs = {
        shift: min(_search(page, notes, sound, sized, shift=shift).price for sized in sizes)
        / len(sound.chroma)
        for shift in range(-6, 6)
    }
    best = min(costs, key=lambda s: costs[s])
    return best, costs[best], costs[0] - costs[best]


def _search(
    page: Page,
    notes: Events,
    sound: Heard,
    bar_s: F64,
    *,
    straight: bool = False,
    filler: float = _FILLER,
    shift: int = 0,
) -> Walk:
    """Search one order on chroma at one tempo, the sound so many semitones lower."""
    edges, pitch = page.laid_out(notes, bar_s, sound.fps)
    rows = chroma_rows(pitch)
    expected = unit_rows(rows**_SHARPER, quiet(rows))
    profile = np.roll(unit_rows(sound.chroma**_SHARPER, 0.0), -shift, axis=1)
    prices = Prices(_JUMP, 0.5 * _JUMP, _LOOP, _UNEVEN, sound.filler(filler))
    return search(page, sound, profile, expected, edges, prices, straight=straight)


def _only_exchanges(order: Order, straight: Order) -> bool:
    """Whether an order only puts strange sound in the place of bars left out.

    Where both take the same time, the bars themselves sound there, unlike what is expected:
    a cut and an insertion of one length in one place do not happen by chance.
    """
    if not order.strange or len(order.strange) * 2 != order.departures:
        return False
    at = {visit.bar: visit for visit in straight.visits}
    for a, b in pairwise(order.visits):
        if b.bar == a.bar + 1:
            continue
        left_out = [at[bar] for bar in range(a.bar + 1, b.bar) if bar in at]
        if b.bar < a.bar or not left_out:
            return False
        strange = sum(e - s for s, e in order.strange if a.start_s <= s and e <= b.end_s)
        straight_s = left_out[-1].end_s - left_out[0].start_s
        if not 1 / _EXCHANGE < (strange + 1e-9) / straight_s < _EXCHANGE:
            return False
    return True


def _halts(page: Page, order: Order) -> float:
    """Octaves of tempo by which bars fall out of their neighbourhood, beyond a fermata's."""
    slow = page.slowness(order)
    out = 0.0
    for k in range(slow.size):
        around = np.delete(slow[max(0, k - _AROUND) : k + _AROUND + 1], min(k, _AROUND))
        if around.size:
            out += max(0.0, abs(slow[k] - float(np.median(around))) - _FERMATA)
    return out
