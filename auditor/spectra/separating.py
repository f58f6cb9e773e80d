"""The sounds of a case, and the lines out of them: from stems, the mix, or both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from auditor.case import AUDIO_SUFFIXES, Case
from auditor.errors import InputError
from auditor.score.notes import Score
from auditor.sound.reading import Sound, read_sound
from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.buses import WHOLE_DB, Desk, desk_spectra, lay_out
from auditor.spectra.explained import Decomposed
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import line_timbres, played_notes
from auditor.spectra.stem_names import Matched, match_stems, read_mapping
from auditor.timbre.library import Library
from auditor.timbre.templates import SOURCES

F32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Sounds:
    """What a case has to listen to.

    Parameters
    ----------
    mix
        The mix, or the sum of the stems.
    desk
        The stems, laid out; None without any.
    """

    mix: Sound
    desk: Desk | None

    def files(self, lines: int) -> tuple[Path | None, ...]:
        """Sound file of each line that stands in the mix as it is; empty if they do not add up.

        Lines of stems that were moved, that share a stem or have none get None.
        """
        desk = self.desk
        if desk is None or (desk.total is not None and desk.total.left_db > WHOLE_DB):
            return ()
        plain = desk.plain_files
        return tuple(plain.get(row) for row in range(lines))


@dataclass(frozen=True, slots=True)
class Templates:
    """Where the decomposition takes its timbres from.

    Parameters
    ----------
    sources
        Shipped sources.
    library
        The user's own set, or None.
    tuning
        Offset from A4 = 440 Hz in semitones.
    """

    sources: Sequence[str] = SOURCES
    library: Library | None = None
    tuning: float = 0.0


def stems_of(folder: Path, score: Score) -> Matched:
    """Whose stem is whose in a folder.

    Raises
    ------
    InputError
        If it holds no sound, or its mapping cannot be followed.
    """
    files = [p for p in folder.iterdir() if p.suffix.lower() in AUDIO_SUFFIXES]
    if not files:
        raise InputError(f"{folder} holds no sound files; put one for each part there")
    playing = {n.part for n in score.notes}
    parts = [p for p in score.parts if p.number in playing]
    return match_stems(files, parts, read_mapping(folder))


def open_sounds(case: Case, score: Score) -> Sounds:
    """Read the mix and lay the stems against it.

    Raises
    ------
    InputError, AudioError
        If there is nothing to listen to, or without a mix a part has no stem.
    """
    if case.stems is None:
        if case.mix is None:
            raise InputError("there is neither a mix nor stems; name a sound file")
        return Sounds(read_sound(case.mix, stereo=True), None)
    matched = stems_of(case.stems, score)
    if case.mix is None:
        matched.all_there()
        desk = lay_out(matched, _rows(score), None)
        return Sounds(_summed(desk, case.stems.name), desk)
    mix = read_sound(case.mix)
    if not matched.stems:
        matched.all_there()
    return Sounds(mix, lay_out(matched, _rows(score), mix.samples))


def _rows(score: Score) -> dict[int, tuple[int, ...]]:
    """Rows of each part's lines that have notes."""
    playing = {n.line for n in score.notes}
    out: dict[int, tuple[int, ...]] = {}
    for k, line in enumerate(score.lines):
        if line.number in playing:
            out[line.part] = (*out.get(line.part, ()), k)
    return out


def _summed(desk: Desk, name: str) -> Sound:
    whole = np.zeros(desk.size, np.float32)
    for bus in (*desk.buses, *desk.room):
        whole += bus.samples(desk.size, desk.shelf)
    said = ("the stems were added up, as no mix was given",)
    return Sound(whole, RATE_HZ, 1, desk.size / RATE_HZ, name, said)


def separate(
    sounds: Sounds,
    score: Score,
    onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64],
    gain_db: float,
    templates: Templates,
    watch: Callable[[Decomposed], None] | None = None,
) -> tuple[LineSpectra, tuple[str, ...]]:
    """Line spectra of a case, and what was noticed on the way.

    Parameters
    ----------
    sounds, score
        The case.
    onset_s, offset_s : ndarray, shape (notes,)
        When each note sounds.
    gain_db
        dB SPL of a full-scale mean square of 1.
    templates
        Timbres for whatever has to be decomposed.
    watch
        Called with the decomposition of a mix without stems.
    """
    library = templates.library
    short = () if library is None else library.voices
    notes = played_notes(score, onset_s, offset_s, short)
    decompose = partial(_decomposed, score=score, gain_db=gain_db, templates=templates)
    said: tuple[str, ...] = ()
    if library is not None:
        said = (
            f"timbres are those of the library {library.name} (SHA-256 {library.digest[:12]})",
        )
    desk = sounds.desk
    if desk is None:
        mix = sounds.mix
        return decompose(mix.samples, notes, None, side=mix.side, watch=watch), said
    whole = sounds.mix.samples if desk.total is not None else None
    lines = len(score.lines)
    spectra, more = desk_spectra(desk, whole, notes, lines, gain_db, decompose)
    return spectra, (*said, *desk.remarks, *more)


def _decomposed(
    samples: F32,
    notes: PlayedNotes,
    known: F32 | None,
    *,
    score: Score,
    gain_db: float,
    templates: Templates,
    side: F32 | None = None,
    watch: Callable[[Decomposed], None] | None = None,
) -> LineSpectra:
    return mix_spectra(
        samples, notes, line_timbres(score), gain_db,
        tuning=templates.tuning, sources=templates.sources, library=templates.library,
        known=known, side=side, watch=watch,
    )  # fmt: skip
