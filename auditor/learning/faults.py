"""What is wrong with a render, said with its file and note."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.learning.likeness import rather_like
from auditor.learning.listing import Render
from auditor.learning.notes import INHARMONIC, Taken
from auditor.learning.placing import Placing
from auditor.timbre.templates import has_own

# A kit file is one steady series of notes: fewer starts than this are another piece.
_STARTS = 0.3
_SHARE_OF_ALL = 0.6  # said once for the file instead of note by note
_FEWEST_SHARE = 1 / 3
_RING_DB = -18.0
_ALIKE_DB = 3.0
_DIES_DB, _HOLDS_DB = 15.0, 4.0
_SAID_EACH = 6  # notes named for one kind of fault


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Parameters
    ----------
    file
        Name of the render, or of the sheet that has none.
    note
        ``bar 4, C4 mf``, or empty for the whole file.
    what
        The rest of the sentence.
    left_out
        True if the note, or the file, was not learned from.
    """

    file: str
    note: str
    what: str
    left_out: bool

    @property
    def sentence(self) -> str:
        """As it is told."""
        where = f"{self.file}, {self.note}" if self.note else self.file
        return f"{where}: {self.what}" + (" (left out)" if self.left_out else "")


def placing_fault(file: str, placing: Placing) -> Fault | None:
    """A render that is not the sheet, or was played at another speed."""
    if placing.fit < _STARTS:
        what = (
            "notes do not start where the kit has them (another file, another tempo, or a very "
            "long reverb); render the file of this name again"
        )
        return Fault(file, "", what, True)
    if placing.speed == 1.0:
        return None
    percent = 100 * (placing.speed - 1)
    word = "fast" if percent > 0 else "slow"
    cause = (
        "its sample rate was mistaken on the way, so pitch and time are wrong"
        if abs(percent) < 20
        else "render it at the kit's tempo"
    )
    return Fault(file, "", f"runs {abs(percent):.0f} % too {word}: {cause}", True)


def note_faults(file: str, render: Render, notes: Sequence[Taken]) -> list[Fault]:
    """Faults of single notes, those that nearly all share said once."""
    out: list[Fault] = []
    missing = len(render.notes) - len(notes)
    if missing:
        what = f"ends early: {missing} of {len(render.notes)} notes are missing"
        out.append(Fault(file, "", what, False))
    kinds = Counter(_kind(n.fault) for n in notes if n.fault)
    long = sum(n.wanted.way != "short" for n in notes)
    for kind, count in kinds.items():
        some = [n for n in notes if _kind(n.fault) == kind]
        if count >= _SHARE_OF_ALL * max(long, 1):
            what = f"{kind} on {count} notes; first {some[0].wanted.name}: it {some[0].fault}"
            out.append(Fault(file, "", what, True))
            continue
        out += [Fault(file, n.wanted.name, n.fault, True) for n in some[:_SAID_EACH]]
        if count > _SAID_EACH:
            out.append(Fault(file, "", f"{kind} on {count - _SAID_EACH} more notes", True))
    return out


def _kind(fault: str) -> str:
    for start, kind in (
        ("sounds an octave", "wrong octave"),
        ("sounds", "wrong pitch"),
        ("holds", "two sounds at once"),
        ("is clipped", "clipping"),
        ("is silent", "silence"),
    ):
        if fault.startswith(start):
            return kind
    return fault


def file_faults(file: str, render: Render, notes: Sequence[Taken]) -> list[Fault]:
    """Faults of the whole render, from the notes that are good."""
    good = [n for n in notes if not n.fault and n.wanted.way != "short"]
    asked = sum(n.way != "short" for n in render.notes)
    if len(good) < max(1.0, _FEWEST_SHARE * asked):
        what = f"too few notes: {len(good)} of {asked} can be used"
        return [Fault(file, "", what, True)]
    checks = (_ring(good), _alike(good), _dying(good), _other(good, render.key))
    return [Fault(file, "", what, False) for what in checks if what]


def _ring(good: Sequence[Taken]) -> str:
    ring = float(np.median([n.ring_db for n in good[1:]])) if len(good) > 1 else -99.0
    if ring < _RING_DB or good[0].wanted.way == "struck":
        return ""
    return (
        f"rings too long: notes still sound at {ring:.0f} dB when the next begins; switch the "
        f"reverb off for the kit, or shorten it"
    )


def _alike(good: Sequence[Taken]) -> str:
    steps = sorted({n.wanted.dynamic for n in good})
    level = [np.median([n.level_db for n in good if n.wanted.dynamic == d]) for d in steps]
    if len(steps) < 2 or level[-1] - level[0] >= _ALIKE_DB:
        return ""
    return (
        f"soft and loud are alike ({level[-1] - level[0]:.1f} dB from p to ff); if the library "
        f"takes its dynamics from a controller, make the kit with --controller 1"
    )


def _dying(good: Sequence[Taken]) -> str:
    way = good[0].wanted.way
    fall = float(np.median([n.decay_db for n in good]))
    if way == "held" and fall > _DIES_DB:
        return f"dies away by {fall:.0f} dB where it should hold: a plucked or short patch?"
    if way in ("plucked", "struck") and good[0].wanted.pitch and fall < _HOLDS_DB:
        return "holds where it should die away: a bowed or held patch?"
    return ""


def _other(good: Sequence[Taken], key: str) -> str:
    pitched = [n for n in good if n.wanted.pitch and n.wanted.dynamic == 3]
    if not pitched or not has_own(key) or key.partition("+")[0] in INHARMONIC:
        return ""
    other = rather_like(pitched, key)
    if other is None:
        return ""
    words = [k.replace("+pizz", " pizzicato").replace("-", " ") for k in (other, key)]
    return f"sounds more like {words[0]} than like {words[1]}; check the patch"


def twin_fault(file: str, other: str) -> Fault:
    """Two renders that hold the same sound."""
    what = f"is the same sound as {other}; should they differ, one patch was rendered twice"
    return Fault(file, "", what, False)
