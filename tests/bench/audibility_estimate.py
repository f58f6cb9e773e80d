"""From a made case to what the program hears in its mix; all wiring is here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import fonts
import numpy as np
from audibility_truth import Made, true_windows

from auditor.alignment.aligning import align
from auditor.hearing.measures import NoteWindows
from auditor.score.notes import Score
from auditor.score.reading import read_score
from auditor.sound.reading import read_sound
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import line_timbres, note_times, played_notes
from auditor.spectra.problem import Settings
from auditor.spectra.retiming import settled
from auditor.timbre.library import Library
from auditor.timbre.templates import SOURCES

# Template sources that share nothing with a font of the group: the fair comparison.
OTHER_SOURCES = {
    "A": ("csgm", "recorded", "tonejs"),
    "B": ("fluid", "muse", "recorded", "tonejs"),
}
RECORDED_SOURCES = ("fluid", "muse", "csgm")


def fair_sources(made: Made) -> tuple[str, ...]:
    """Template sources that never met the sounds of this case, fonts that stand in included."""
    fair = set(SOURCES)
    for source in {str(row["source"]) for row in made.parts}:
        known = fonts.FONTS.get(source)
        fair &= set(RECORDED_SOURCES if known is None else OTHER_SOURCES[known.group])
    return tuple(sorted(fair))


def page_of(made: Made) -> Score:
    """Read the page, which must hold the notes that were rendered, in that order."""
    score = read_score(made.folder / "score.musicxml")
    rows = [(n.part, n.pitch, round(n.onset, 3)) for n in score.notes]
    wanted = [(n["part"], n["pitch"], round(n["onset_quarters"], 3)) for n in made.notes]
    if rows != wanted:
        raise SystemExit(f"{made.folder}: the page was read with other notes than it has")
    return score


def full_windows(made: Made, score: Score) -> NoteWindows:
    """When each note sounds as the program itself finds out from page and mix."""
    timeline = align(score, read_sound(made.folder / "mix.flac"))
    true = true_windows(made)
    onset, offset = note_times(score, timeline)
    return NoteWindows(true.line, onset, offset, true.pitch, true.sustained, true.instrument)


def shaken(windows: NoteWindows, jitter_s: float, seed: int) -> NoteWindows:
    """Note times off by a normal error, onset and offset of a note alike."""
    error = np.random.default_rng([seed, 5]).normal(0, jitter_s, windows.onset_s.size)
    onset = np.maximum(windows.onset_s + error, 0)
    offset = np.maximum(windows.offset_s + error, onset + 0.03)
    return NoteWindows(
        windows.line, onset, offset, windows.pitch, windows.sustained, windows.instrument
    )


def resettled(made: Made, score: Score, windows: NoteWindows) -> NoteWindows:
    """Notes moved to where the sound begins, as an audit does after the alignment."""
    onset, offset = settled(made.mix, score, windows.onset_s, windows.offset_s)
    return replace(windows, onset_s=onset, offset_s=offset)


def estimated(
    made: Made,
    score: Score,
    windows: NoteWindows,
    sources: Sequence[str],
    settings: Settings | None = None,
    library: Library | None = None,
) -> LineSpectra:
    """Line spectra from the mix alone; the one place that calls the decomposition."""
    notes = played_notes(score, windows.onset_s, windows.offset_s)
    return mix_spectra(
        made.mix, notes, line_timbres(score), made.calibration_db,
        sources=sources, settings=settings, library=library, side=made.side,
    )  # fmt: skip
