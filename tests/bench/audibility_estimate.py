"""From a made case to what the program hears in its mix; all wiring is here."""

from __future__ import annotations

from collections.abc import Sequence

import fonts
import numpy as np
from audibility_truth import Made, true_windows

from auditor.alignment.aligning import align
from auditor.hearing.measures import NoteWindows
from auditor.score.instruments import table
from auditor.score.reading import read_score
from auditor.sound.reading import read_sound
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import LineTimbre, mix_spectra
from auditor.timbre.dynamics import power_level_db

# Template sources that share nothing with a font of the group: the fair comparison.
OTHER_SOURCES = {"A": ("csgm", "recorded"), "B": ("fluid", "muse", "recorded")}
RECORDED_SOURCES = ("fluid", "muse", "csgm")


def fair_sources(made: Made) -> tuple[str, ...]:
    """Template sources that never met the sounds of this case."""
    if any(row["source"] == "recorded" for row in made.parts):
        return RECORDED_SOURCES
    return OTHER_SOURCES[fonts.FONTS[made.font].group]


def full_windows(made: Made) -> NoteWindows:
    """When each note sounds as the program itself finds out from page and mix."""
    score = read_score(made.folder / "score.musicxml")
    rows = [(n.part, n.pitch, round(n.onset, 3)) for n in score.notes]
    wanted = [(n["part"], n["pitch"], round(n["onset_quarters"], 3)) for n in made.notes]
    if rows != wanted:
        raise SystemExit(f"{made.folder}: the page was read with other notes than it has")
    timeline = align(score, read_sound(made.folder / "mix.flac"))
    true = true_windows(made)
    onset = np.array([note.onset for note in score.notes])
    length = np.array([note.duration for note in score.notes])
    return NoteWindows(
        line=true.line,
        onset_s=timeline.seconds(onset),
        offset_s=timeline.seconds(onset + length),
        pitch=true.pitch,
        sustained=true.sustained,
        instrument=true.instrument,
    )


def shaken(windows: NoteWindows, jitter_s: float, seed: int) -> NoteWindows:
    """Note times off by a normal error, onset and offset of a note alike."""
    error = np.random.default_rng([seed, 5]).normal(0, jitter_s, windows.onset_s.size)
    onset = np.maximum(windows.onset_s + error, 0)
    offset = np.maximum(windows.offset_s + error, onset + 0.03)
    return NoteWindows(
        windows.line, onset, offset, windows.pitch, windows.sustained, windows.instrument
    )


def played_notes(made: Made, windows: NoteWindows) -> PlayedNotes:
    """Lay out what the score tells the decomposition: no fader, no true level."""
    plucked = np.array([bool(note["pizzicato"]) for note in made.notes])
    dynamic = np.array([note["dynamic"] for note in made.notes])
    names = []
    for k, line in enumerate(windows.line):
        row = made.parts[line]
        solo = row["family"] == "strings" and row["players"] == 1
        pizz = "+pizz" if plucked[k] else ""
        names.append(row["instrument"] + (pizz or ("-solo" if solo else "")))
    timbres, timbre = np.unique(names, return_inverse=True)
    level = np.empty(dynamic.size)
    for k, line in enumerate(windows.line):
        row = made.parts[line]
        level[k] = power_level_db(
            row["instrument"], row["family"], dynamic[k], row["players"], plucked=plucked[k]
        )
    return PlayedNotes(
        line=windows.line,
        onset_s=windows.onset_s,
        offset_s=windows.offset_s,
        pitch=windows.pitch,
        dynamic=dynamic,
        sustained=windows.sustained,
        timbre=timbre.astype(np.int64),
        timbres=tuple(str(name) for name in timbres),
        level_db=level,
    )


def timbres_of(made: Made) -> list[LineTimbre]:
    """Name each line's instrument."""
    known = {entry.instrument.key: entry.instrument for entry in table()}
    found = [known[row["instrument"]] for row in made.parts]
    return [LineTimbre(i.key, i.family, i.kind, i.pitched) for i in found]


def estimated(made: Made, windows: NoteWindows, sources: Sequence[str]) -> LineSpectra:
    """Line spectra from the mix alone; the one place that calls the decomposition."""
    notes = played_notes(made, windows)
    return mix_spectra(made.mix, notes, timbres_of(made), made.calibration_db, sources=sources)
