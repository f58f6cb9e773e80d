"""Excerpts of the page as MusicXML, noteheads stamped so that a drawing can point at them."""

from __future__ import annotations

import copy
import logging
import warnings
from collections.abc import Sequence
from typing import Any

from music21 import clef, layout, stream
from music21.exceptions21 import Music21Exception
from music21.musicxml.m21ToXml import GeneralObjectExporter

from auditor.errors import InputError, ScoreError
from auditor.score.reading import Page

_LOG = logging.getLogger(__name__)
_WRITER_FAULTS = (
    Music21Exception,
    ArithmeticError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
)


def stamped_excerpt(
    page: Page, part_numbers: Sequence[int], first_written_bar: int, last_written_bar: int
) -> str:
    """MusicXML of some parts and bars; each notehead's ``id`` is its `Note.element`.

    Clef, key and time in force stand in the first bar; pitches are as written. The
    later noteheads of tied notes carry identifiers of their own.

    Parameters
    ----------
    page
        From `auditor.score.reading.open_score`.
    part_numbers
        Numbers of parts, in the order they shall stand.
    first_written_bar, last_written_bar
        0-based bars of the page, both included (`Bar.written_index`).

    Raises
    ------
    InputError
        If a part or bar is not in the score.
    ScoreError
        If the music library cannot write these bars.
    """
    bars = first_written_bar, last_written_bar
    _check(page, part_numbers, *bars)
    try:
        return _written(_excerpt(page, part_numbers, bars, spanners=True))
    except _WRITER_FAULTS as exc:
        # Slurs and hairpins that lead out of the excerpt are what the writer stumbles over.
        _LOG.info("bars %d to %d are engraved without slurs: %s", *bars, exc)
    try:
        return _written(_excerpt(page, part_numbers, bars, spanners=False))
    except _WRITER_FAULTS as exc:
        raise ScoreError(
            f"bars {bars[0] + 1} to {bars[1] + 1} of the page cannot be engraved ({exc})"
        ) from exc


def _check(page: Page, part_numbers: Sequence[int], first: int, last: int) -> None:
    if not part_numbers:
        raise InputError("an excerpt needs at least one part")
    for number in part_numbers:
        if number not in page.staves:
            raise InputError(
                f"there is no part {number}; the score has parts 1 to {max(page.staves)}"
            )
    if not 0 <= first <= last < page.score.written_bars:
        raise InputError(
            f"bars {first} to {last} are not in the score, whose bars go from 0 to "
            f"{page.score.written_bars - 1}"
        )


def _excerpt(
    page: Page, part_numbers: Sequence[int], bars: tuple[int, int], *, spanners: bool
) -> stream.Score:
    excerpt = stream.Score()
    for number in part_numbers:
        name = next(part.name for part in page.score.parts if part.number == number)
        cut = [_cut(staff, bars, spanners=spanners) for staff in page.staves[number]]
        for staff in cut:
            staff.partName = name
            excerpt.insert(0, staff)
        if len(cut) > 1:
            excerpt.insert(0, layout.StaffGroup(cut, name=name, symbol="brace"))
    return excerpt


def _cut(staff: Any, bars: tuple[int, int], *, spanners: bool) -> Any:
    """Copy a staff's bars, with what is in force shown in the first."""
    first, last = bars
    chosen = staff.measures(first, last + 1, indicesNotNumbers=True, gatherSpanners=spanners)
    # A copy, for the writer rebeams and adds accidentals in place.
    out = copy.deepcopy(chosen)
    head = out.getElementsByClass(stream.Measure).first()
    if head is not None and not out.getElementsByClass(clef.Clef) and head.clef is None:
        # Without a clef the engraver draws none and misplaces the key signature.
        head.insert(0, clef.bestClef(head, recurse=True))
    return out


def _written(excerpt: stream.Score) -> str:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # "out of midi channels", of no matter here
        data: bytes = GeneralObjectExporter(excerpt).parse()
    return data.decode("utf-8")
