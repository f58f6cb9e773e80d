"""The thresholds of the craft checks: what each says, its source, and how a file sets them.

A file ``craft.toml`` holds lines such as ``harp_span = 16``; what it leaves out keeps the
value given here.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass, fields
from pathlib import Path

from auditor.craft.page_limits import PageLimits
from auditor.craft.threshold import limit as _limit
from auditor.errors import InputError
from auditor.settings_files import read_toml

# What is divided by, or counts something there must be one of at least. Levels alone, in
# dynamic steps, may be below 0 (ppp is -1).
_ABOVE_ZERO = (
    "assumed_tempo", "tessitura_seconds", "tongue_share", "tongue_notes", "cue_bars",
    "harp_fingers", "drums", "mallets",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CraftLimits(PageLimits):
    """Every threshold of the craft checks; what each says stands in its metadata.

    Pitches are sounding MIDI numbers, spans are semitones, times seconds.
    """

    # Reading the page
    assumed_tempo: float = _limit(
        100.0, "quarters a minute where the page gives no tempo", "our choice, said in results"
    )
    neighbour_bars: float = _limit(
        2.0, "like remarks this many bars apart or nearer are told as one", "our choice"
    )

    # Stops: how far apart on the string the outer stopped fingers may stand. Worked out from
    # what handbooks call an octave, a tenth and a whole tone at the nut of each instrument.
    violin_reach_mm: float = _limit(
        88.0,
        "fingers this far apart are usual on the violin (an octave from the half position)",
        "string length 328 mm and octave frame, from memory",
    )
    violin_reach_widest_mm: float = _limit(
        126.0,
        "and this is the widest (a tenth at the nut)",
        "tenths as the widest stop, from memory",
    )
    viola_reach_mm: float = _limit(
        88.0, "the same on the viola (an octave)", "the violinist's hand on 370 mm of string"
    )
    viola_reach_widest_mm: float = _limit(
        126.0, "and the widest", "the violinist's hand on 370 mm of string"
    )
    cello_reach_mm: float = _limit(
        135.0,
        "the same on the cello, thumb behind the neck (first to fourth finger extended)",
        "a major third from first to fourth finger on 690 mm, from memory",
    )
    cello_reach_widest_mm: float = _limit(
        170.0,
        "and the widest, with the thumb on the string (an octave)",
        "octaves take the thumb: H. Berlioz and R. Strauss, Treatise, and C. Forsyth, "
        "Orchestration (1914), 412",
    )
    bass_reach_mm: float = _limit(
        115.0,
        "the same on the double bass (a whole tone from first to fourth finger)",
        "a whole tone on 1060 mm, from memory",
    )
    bass_reach_widest_mm: float = _limit(165.0, "and the widest", "a minor third on 1060 mm")
    stop_highest: float = _limit(
        24.0, "no stop lies more than this many semitones above its open string"
    )
    soft_chord_level: float = _limit(
        1.5,
        "bowed chords of three and four notes at this dynamic step or softer (p is 1)",
        "N. Rimsky-Korsakov, Principles of Orchestration (1922), ch. II: short chords, arco, "
        "only sound well when played forte",
    )
    harmonic_partial: float = _limit(
        6.0,
        "highest partial of an open string counted on as a natural harmonic; two more on "
        "cello and double bass",
    )
    harmonic_top: float = _limit(
        108.0,
        "highest sounding pitch of a harmonic (C8)",
        "violin to C8 in harmonics, from memory",
    )
    divisi_players: float = _limit(
        2.0, "fewer players than this to a note of a divided section"
    )
    low_bass: float = _limit(
        28.0,
        "lowest pitch of a double bass with four strings and no extension (E1)",
        "E. Prout, The Orchestra I (1899), 19",
    )

    # Harp
    harp_fingers: float = _limit(
        4.0,
        "notes a hand of the harp plays at once",
        "E. Volpé Bligh, Writing for the Pedal Harp; Rimsky-Korsakov (1922), 27",
    )
    harp_span: float = _limit(
        16.0, "semitones a hand of the harp spans (a tenth)", "from memory"
    )
    harp_span_widest: float = _limit(
        19.0, "and the widest (a twelfth), the hand stretched: the strings lie closer than keys"
    )
    harp_right_floor: float = _limit(
        40.0, "lowest pitch of the right hand while the left plays below it (E2)"
    )
    pedal_s: float = _limit(
        0.5,
        "seconds a foot takes for one pedal at the usual pace (two a second)",
        "E. Volpé Bligh, Writing for the Pedal Harp",
    )
    pedal_fastest_s: float = _limit(
        0.25,
        "and at the fastest (four a second between the feet, both in turn)",
        "half of E. Volpé Bligh's usual pace; our choice",
    )
    pedal_window_s: float = _limit(
        8.0, "seconds around a fault in which other spellings are tried", "our choice"
    )

    # Timpani
    drums: float = _limit(
        4.0,
        "drums of the usual set: 32, 29, 26 and 23 inches",
        "J. J. Papastefan, Timpani Sizes and Ranges",
    )
    retune_s: float = _limit(
        4.0, "seconds to retune a drum in comfort, ear and pedal", "several bars; our choice"
    )
    retune_fastest_s: float = _limit(
        1.0, "and the least for a pedal drum", "1 to 2 s a drum, from memory"
    )
    timpani_low: float = _limit(
        38.0,
        "lowest pitch of the usual set (D2)",
        "D2 to A3 give or take a semitone: inmusica and datimp.com",
    )
    timpani_high: float = _limit(57.0, "highest pitch of the usual set (A3)", "as above")
    timpani_lowest: float = _limit(
        36.0, "lowest pitch on any drum (C2, a drum of 75 to 80 cm)", "instrumentation handbook"
    )
    timpani_highest: float = _limit(
        60.0,
        "highest pitch on any usual drum (C4, 20 inches)",
        "J. J. Papastefan, Timpani Sizes and Ranges",
    )

    # Mallets, percussion, keyboards
    mallets: float = _limit(
        4.0, "mallets one player holds", "S. Solomon, How to Write for Percussion"
    )
    mallet_span: float = _limit(
        12.0,
        "semitones between the two mallets of a hand (an octave at the bottom of a marimba)",
        "S. Solomon, How to Write for Percussion",
    )
    percussion_change_s: float = _limit(
        2.0, "seconds a percussionist takes from one instrument to the next"
    )
    key_span: float = _limit(14.0, "semitones a hand spans at the keyboard (a ninth)")
    key_span_widest: float = _limit(16.0, "and the widest (a tenth)")


# Thresholds of one's own, beside the score.
FILE = "craft.toml"


def limits_beside(score: Path) -> Path | None:
    """Name the file of thresholds beside a score, if there is one."""
    beside = score.parent / FILE
    return beside if beside.is_file() else None


def read_limits(path: Path) -> CraftLimits:
    """Thresholds of a ``craft.toml``.

    Raises
    ------
    InputError
        If the file cannot be read as TOML, or names what is no threshold, or gives what is no
        number; all of them are told at once.
    """
    given = read_toml(path)
    known = {one.name for one in fields(CraftLimits)}
    wrong = [_wrong(name, value, known) for name, value in given.items()]
    told = [sentence for sentence in wrong if sentence]
    if told:
        raise InputError(f"{path}: {'; '.join(told)}")
    return CraftLimits(**{name: float(value) for name, value in given.items()})


def _wrong(name: str, value: object, known: set[str]) -> str:
    """Say what is wrong with one line of the file; empty when nothing is."""
    if name not in known:
        near = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.0)
        return f"there is no threshold {name!r}, the nearest is {near[0]!r}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{name} is {value!r}, expected a number"
    if not math.isfinite(value):
        return f"{name} is {value}, expected a finite number"
    if name in _ABOVE_ZERO and value <= 0:
        return f"{name} is {value:g}, expected more than 0"
    if value < 0 and "level" not in name:
        return f"{name} is {value:g}, expected 0 or more"
    return ""


def limits_text() -> str:
    """Every threshold as a ``craft.toml`` with its meaning and source as comments."""
    lines = []
    for one in fields(CraftLimits):
        lines.append(f"# {one.metadata['says']}; source: {one.metadata['source']}")
        lines.append(f"{one.name} = {one.default:g}")
    return "\n".join(lines) + "\n"
