"""The written bars behind the played axis: what follows what, and how the passes are named."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.expected import Events, pitch_rows
from auditor.alignment.visits import Order
from auditor.score.notes import Score

# Quarters a minute where the page names no tempo.
_TEMPO = 100.0
# In places where the played axis is left: a repeat not taken (one with nothing else left out),
# and a later pass, which decides between equals only.
_NOT_REPEATED, _LATER = 0.1, 1e-6

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I64 = NDArray[np.int64]


class Page:
    """The written bars, each by the first bar of the played axis that plays it.

    Attributes
    ----------
    written : ndarray of int, shape (bars,)
        Written bar of each bar of the played axis.
    first : ndarray of int, shape (rows,)
        First bar of the played axis for each written bar that is played: its row.
    nominal_s, even_s : ndarray, shape (bars,)
        Length of each bar as its tempo mark says, and at one tempo for all.
    """

    def __init__(self, score: Score) -> None:
        self.score = score
        self.written = np.array([b.written_index for b in score.bars])
        _, self.first = np.unique(self.written, return_index=True)
        self._place = {int(self.written[p]): k for k, p in enumerate(self.first)}
        tempo, last = [], _TEMPO
        for bar in score.bars:
            last = bar.tempo or last
            tempo.append(last)
        quarters = np.array([b.duration for b in score.bars])
        self.nominal_s: F64 = quarters * 60.0 / np.array(tempo)
        self.even_s: F64 = quarters * 60.0 / _TEMPO

    def of(self, played: int) -> int:
        """Row of the written bar that a bar of the played axis plays."""
        return self._place[int(self.written[played])]

    def follows(self) -> NDArray[np.bool_]:
        """Tell where the page asks for b after a: true at [a, b], shape (rows, rows)."""
        rows = len(self.first)
        out = np.zeros((rows, rows), np.bool_)
        for p in range(len(self.written) - 1):
            out[self.of(p), self.of(p + 1)] = True
        return out

    def slowness(self, order: Order) -> F64:
        """Octaves by which each visit is slower than at an even tempo, shape (visits,)."""
        length = np.array([v.end_s - v.start_s for v in order.visits])
        out: F64 = np.log2(np.maximum(length, 1e-3) / self.even_s[list(order.bars)])
        return out

    def passes(self, rows: list[int]) -> list[int]:
        """Bars of the played axis that visits of written bars stand for.

        Of all ways to name them the one that leaves the played axis least often, where bars
        left out that came before count little; between equal ones the earlier pass.
        """
        if not rows:
            return []
        # So many bars before each are met for the first time there.
        news = np.concatenate(
            [[0], np.cumsum(self._first_of() == np.arange(self.written.size))]
        )
        named = [np.flatnonzero(self.written == self.written[self.first[r]]) for r in rows]
        price = np.where(named[0] == 0, 0.0, 1.0) + _LATER * np.arange(named[0].size)
        back = []
        for old, new in pairwise(named):
            on = old[:, None] + 1
            share = (news[new] - news[on]) / np.maximum(new - on, 1)
            cut = np.minimum(1.0, _NOT_REPEATED + 2.0 * share)
            step = price[:, None] + np.where(new == on, 0.0, np.where(new > on, cut, 1.0))
            back.append(step.argmin(axis=0))
            price = step.min(axis=0) + _LATER * np.arange(new.size)
        at = int(np.argmin(price))
        out = [int(named[-1][at])]
        for k in range(len(back) - 1, -1, -1):
            at = int(back[k][at])
            out.append(int(named[k][at]))
        return out[::-1]

    def _first_of(self) -> I64:
        """First bar of the played axis that plays what each plays, shape (bars,)."""
        return self.first[[self.of(k) for k in range(self.written.size)]]

    def laid_out(self, notes: Events, bar_s: F64, fps: float) -> tuple[I64, F32]:
        """Lay the played axis out in frames.

        Parameters
        ----------
        notes
            Of the score.
        bar_s : ndarray, shape (bars,)
            How long each bar is to last.
        fps
            Frames a second.

        Returns
        -------
        ndarray of int, shape (bars + 1,)
            First frame of each bar, and the number of frames.
        ndarray, shape (frames, 85)
            Expected pitch bins.
        """
        # Rounded along the whole, so that short bars do not all err the same way.
        sizes = np.maximum(1, np.diff(np.rint(np.cumsum(bar_s) * fps), prepend=0))
        edges = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
        quarters = np.array([b.onset for b in self.score.bars] + [self.score.duration])
        # A frame of the page is centred in its share of the bar, as a heard one is in its time.
        onset_s = (np.interp(notes.onset, quarters, edges) - 0.5) / fps
        offset_s = (np.interp(notes.offset, quarters, edges) - 0.5) / fps
        return edges, pitch_rows(notes, onset_s, offset_s, int(edges[-1]), fps)
