"""What is known before a mix is decomposed: its power, who sounds when, templates, priors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PARTIALS = 16  # partials told apart, counting the place 0 for none


@dataclass(frozen=True, slots=True)
class Settings:
    """Spreads of the priors in dB and how much the sound counts against them.

    Found on made mixes whose templates came from other sound sources; see
    docs/evaluation.md. The line-level error moves if any of them changes by half.
    """

    line_db: float = 8.0
    note_db: float = 3.0
    entry_db: float = 3.0
    ring_db: float = 10.0
    equaliser_db: float = 4.0
    deviation_db: float = 3.0
    partial_db: float = 3.0
    floor_db: float = -45.0
    trust: float = 0.7
    iterations: int = 40
    ceiling: float = 10.0
    repetition: float = 1.0
    leaning: float = 0.4
    # Where the templates were learned from the very instruments that sound. Chosen on 14 made
    # cases of two fonts, recorded notes and a room (seeds 5000 to 5017). On twelve others (5040
    # to 5045) against 2, 2, 1 and 1 dB the mean error of a line's level went from 1.32 to 1.27
    # dB, of a note's from 1.80 to 1.67, F1 of lines from .940 to .949: no more than that.
    own_note_db: float = 0.7
    own_entry_db: float = 0.4
    own_deviation_db: float = 0.2
    own_partial_db: float = 0.2


@dataclass(frozen=True, slots=True)
class Problem:
    """What is known before the fit.

    Parameters
    ----------
    power : ndarray, shape (segments, pools), float32
        Mean power of the mix.
    tails : ndarray, shape (segments, pools), float32
        Power of it that is the tail of what sounded before.
    weight : ndarray, shape (segments,)
        How much each segment counts.
    first : ndarray of int, shape (segments + 1,)
        Where each segment's entries begin.
    note, age, atom : ndarray of int, shape (entries,)
        Note, age and atom of each entry.
    templates : ndarray, shape (atoms, pools), float32
        Template power.
    unlike : ndarray, shape (sources, atoms, pools), float32
        How each source's template differs from `templates`, in natural log units.
    partial : ndarray of int, shape (colours, pools)
        Number of the partial nearest to each pool, 0 where there is none to speak of.
    atom_colour : ndarray of int, shape (atoms,)
        Line-and-pitch row of each atom.
    colour_line : ndarray of int, shape (colours,)
        Line of each line-and-pitch row.
    note_line : ndarray of int, shape (notes,)
        Line of each note.
    expected_db : ndarray, shape (notes,)
        Expected level of each note, up to one constant for the whole.
    own : ndarray of bool, shape (colours,)
        Where the template was learned from the instrument that sounds; None for nowhere.
    known : ndarray, shape (segments, pools), float32
        Power that is known to belong to none of the lines; None for none.
    image, image_tails : ndarray, shape (segments, 3, pools), float32
        Of a stereo mix: what `power` and `tails` are, the product of middle and side, and the
        power of the side. None in mono.
    """

    power: NDArray[np.float32]
    tails: NDArray[np.float32]
    weight: NDArray[np.float32]
    first: NDArray[np.int64]
    note: NDArray[np.int64]
    age: NDArray[np.int64]
    atom: NDArray[np.int64]
    templates: NDArray[np.float32]
    unlike: NDArray[np.float32]
    partial: NDArray[np.int64]
    atom_colour: NDArray[np.int64]
    colour_line: NDArray[np.int64]
    note_line: NDArray[np.int64]
    expected_db: NDArray[np.float64]
    own: NDArray[np.bool_] | None = None
    known: NDArray[np.float32] | None = None
    image: NDArray[np.float32] | None = None
    image_tails: NDArray[np.float32] | None = None

    def spread(self, usual: float, own: float) -> NDArray[np.float64]:
        """Spread of a prior for each colour, shape (colours,)."""
        if self.own is None:
            return np.full(self.colour_line.size, usual)
        return np.where(self.own, own, usual)
