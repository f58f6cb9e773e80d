"""What players of each instrument can give: reach, weak registers, ease, breath and tongue.

The table is `abilities.tsv`. Pitches are sounding MIDI numbers, 60 is middle C; dynamics are
the steps of `auditor.score.notes`; times are seconds.

References
----------
.. [1] N. Rimsky-Korsakov, *Principles of Orchestration* (1922), ch. I: registers and their
       dynamics, breath (p. 20), single and double tonguing (p. 19).
.. [2] C. W. Fobes, "Synthetic Speed Tonguing" (2000): four notes a beat at 144 to 152, 9.6 a
       second and more, lie beyond most clarinettists: a tenth above the 8.7 of the table.
.. [3] *Contemporary Tuba*, "Tonguing": single 9 to 10 a second, double about 12 and faster.

Reach beyond the usual range, seconds of breath and the levels of strain are common practice,
no source.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from auditor.score.notes import Instrument

# Pitches beyond the usual range of an instrument the table leaves out, in semitones.
_BELOW, _ABOVE = 2, 4


@dataclass(frozen=True, slots=True)
class Zone:
    """A register and the dynamic it does not give.

    Parameters
    ----------
    pitch
        Sounding MIDI number where the register ends (low ones) or begins (high ones).
    level
        Dynamic in steps from which, or down to which, it fails.
    """

    pitch: int
    level: float


@dataclass(frozen=True, slots=True)
class Ability:
    """What one instrument's players can give.

    Parameters
    ----------
    lowest, highest
        Sounding MIDI numbers beyond which nobody plays in an orchestra.
    usual_low
        Lowest note that may be counted on, where the instrument table reaches lower.
    extension
        What the notes below the usual range ask for; empty if they cannot be had.
    faint, heavy
        Low registers: the first does not carry from a level on, the second cannot be played
        softly down to a level.
    pinched, thin
        High registers: the first cannot be played softly, the second loses its strength.
    ease_high
        Mean pitch of a long passage above which it lies high.
    strain_at
        Pitch from which playing tires; None for those who neither blow nor sing.
    breath_s
        Seconds of one breath at mf in the middle register.
    tongue_hz, multiple_hz
        Notes a second of the single tongue, and of the double and triple one.
    """

    lowest: int
    highest: int
    usual_low: int | None = None
    extension: str = ""
    faint: Zone | None = None
    heavy: Zone | None = None
    pinched: Zone | None = None
    thin: Zone | None = None
    ease_high: int | None = None
    strain_at: int | None = None
    breath_s: float | None = None
    tongue_hz: float | None = None
    multiple_hz: float | None = None


@cache
def _table() -> dict[str, Ability]:
    text = (files("auditor.craft") / "abilities.tsv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines(), delimiter="\t")
    return {row["key"]: _ability(row) for row in rows}


def _ability(row: dict[str, str]) -> Ability:
    def zone(name: str, side: str) -> Zone | None:
        pitch = row[f"{name}_at"]
        return Zone(int(pitch), float(row[f"{name}_{side}"])) if pitch else None

    return Ability(
        lowest=int(row["lowest"]),
        highest=int(row["highest"]),
        usual_low=int(row["usual_low"]) if row["usual_low"] else None,
        extension=row["extension"],
        faint=zone("faint", "from"),
        heavy=zone("heavy", "to"),
        pinched=zone("pinched", "to"),
        thin=zone("thin", "from"),
        ease_high=int(row["ease_high"]) if row["ease_high"] else None,
        strain_at=int(row["strain_at"]) if row["strain_at"] else None,
        breath_s=float(row["breath_s"]) if row["breath_s"] else None,
        tongue_hz=float(row["tongue_hz"]) if row["tongue_hz"] else None,
        multiple_hz=float(row["multiple_hz"]) if row["multiple_hz"] else None,
    )


def ability(instrument: Instrument) -> Ability:
    """What players of an instrument can give; one the table leaves out has only a reach."""
    found = _table().get(instrument.key)
    return found or Ability(instrument.low - _BELOW, instrument.high + _ABOVE)


def known_keys() -> tuple[str, ...]:
    """Keys of the instruments the table holds."""
    return tuple(_table())
