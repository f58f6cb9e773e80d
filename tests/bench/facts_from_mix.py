"""What the mix alone says of the orchestrators' facts, beside what the true stems say.

    facts_from_mix.py

The scenes are those of tests/whole/test_trade_facts.py: stems at published powers, in two
sound sources of unrelated origin and two keys. Here they are summed, and the decomposition
is given the sum, the notes with their true times, and templates that never met the source.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import fonts
import numpy as np
import soundfile
import soxr
from audibility_estimate import OTHER_SOURCES
from numpy.typing import NDArray

from auditor.hearing.audibility import listen
from auditor.hearing.measures import Group, Heard, Limits, NoteWindows
from auditor.score.instruments import entry
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.line_spectra import FLOOR_DB, LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.palette import LineTimbre
from auditor.spectra.stems import stem_spectra
from auditor.timbre.dynamics import power_level_db
from auditor.units import power_to_db

FACTS = Path(__file__).parents[2] / "test_audio" / "facts"
sys.path.insert(0, str(FACTS))
from make_facts import STEMS, Desk  # noqa: E402
from mixes_players import CHAIRS  # noqa: E402

INDEX = {
    (row["font"], row["key"], row["stem"]): row
    for row in json.loads((FACTS / "facts.json").read_text(encoding="utf-8"))
}
# As in test_trade_facts.py: full scale is 120 dB re 1 pW, G is 4.5 dB.
HALL_DB = 120.0 + 4.5 - 31.0
LIMITS = Limits()
SCENES = [(font, key) for font in ("fluid", "csound") for key in (0, 3)]


@dataclass(frozen=True, slots=True)
class Fact:
    """The judged stem comes first; `strand` of the first stems are judged as one."""

    says: str
    stems: tuple[str, ...]
    strand: int = 0


FACTS_TOLD = (
    Fact("harp under low pizzicato: not clear", ("harp-low", "low-pizzicato")),
    Fact("harp under soft held strings: clear", ("harp-low", "soft-strings")),
    Fact("harp with xylophone: less than 0.65 of it", ("harp-high", "xylophone")),
    Fact("  the xylophone there", ("xylophone", "harp-high")),
    Fact("saxophones under high horns: not clear", ("saxophones-wide", "horns-chord")),
    Fact("  with two trumpets: more", ("saxophones-wide", "trumpets", "horns-chord"), 2),
    Fact("close saxophones under horns: not clear", ("saxophones-close", "horns-chord")),
    Fact("  with two trumpets: more", ("saxophones-close", "trumpets", "horns-chord"), 2),
    Fact("lower of two timpani: the weaker", ("timpani-lower", "timpani-upper")),
    Fact("  the upper one", ("timpani-upper", "timpani-lower")),
    Fact("trumpet ff in a tutti: clear", ("trumpet-ff", "tutti")),
    Fact("trumpet mf in a tutti: not clear", ("trumpet-mf", "tutti")),
)


def _stem(font: str, key: int, name: str) -> NDArray[np.float32]:
    row = INDEX[font, key, name]
    samples, rate = soundfile.read(FACTS / row["file"], dtype="float32")
    full = soxr.resample(samples, rate, 44_100)
    return np.asarray(full * 10 ** (row["gain_db"] / 20), np.float32)


def _windows(font: str, key: int, names: Sequence[str]) -> NoteWindows:
    rows = [INDEX[font, key, name]["notes"] for name in names]
    notes = [(k, note) for k, row in enumerate(rows) for note in row]
    return NoteWindows(
        line=np.array([k for k, _ in notes]),
        onset_s=np.array([n["onset_s"] for _, n in notes]),
        offset_s=np.array([n["offset_s"] for _, n in notes]),
        pitch=np.array([n["pitch"] for _, n in notes]),
        sustained=np.array([n["sustained"] for _, n in notes]),
        instrument=tuple(row[0]["instrument"] for row in rows),
    )


def _desks(key: int, names: Sequence[str]) -> list[tuple[int, Desk]]:
    made = {stem.name: stem.moved(key) for stem in STEMS}
    return [(k, desk) for k, name in enumerate(names) for desk in made[name].desks]


def _level(desk: Desk) -> float:
    chair = CHAIRS[desk.chair]
    power = power_level_db(
        chair.instrument, chair.family, desk.dynamic, desk.players, plucked=desk.pizzicato
    )
    return float(power)


def _timbre(desk: Desk) -> str:
    key = CHAIRS[desk.chair].instrument
    return f"{key}+pizz" if desk.pizzicato else key


def _played(desks: Sequence[Desk]) -> PlayedNotes:
    tones = [(k, tone) for k, desk in enumerate(desks) for tone in desk.tones]
    line = np.array([k for k, _ in tones])
    timbres, timbre = np.unique([_timbre(d) for d in desks], return_inverse=True)
    held = np.array([CHAIRS[d.chair].sustained and not d.pizzicato for d in desks])
    onset = np.array([tone[0] for _, tone in tones])
    return PlayedNotes(
        line=line,
        onset_s=onset,
        offset_s=onset + np.array([tone[1] for _, tone in tones]),
        pitch=np.array([tone[2] for _, tone in tones]),
        dynamic=np.array([float(d.dynamic) for d in desks])[line],
        sustained=held[line],
        timbre=timbre.astype(np.int64)[line],
        timbres=tuple(str(t) for t in timbres),
        level_db=np.array([_level(d) for d in desks])[line],
    )


def _gathered(spectra: LineSpectra, stem: NDArray[np.int64]) -> LineSpectra:
    """Sum desks into their stems; a stem is as sure as its surest desk."""
    power = 10 ** (spectra.level_db.astype(np.float64) / 10)
    rows = [np.flatnonzero(stem == k) for k in range(int(stem.max()) + 1)]
    level = np.stack([power_to_db(power[row].sum(axis=0), FLOOR_DB) for row in rows])
    sure = np.stack([spectra.confidence[row].max(axis=0) for row in rows])
    return LineSpectra(
        level.astype(np.float32), spectra.frame_s, spectra.band_cam, sure, spectra.source
    )


def hear(fact: Fact, font: str, key: int) -> tuple[Heard, Heard]:
    """Hear one scene from its true stems and from their sum."""
    samples = [_stem(font, key, name) for name in fact.stems]
    size = min(len(one) for one in samples)
    stems = np.stack([one[:size] for one in samples])
    desks = _desks(key, fact.stems)
    families = [entry(CHAIRS[d.chair].instrument).instrument for _, d in desks]
    from_mix = mix_spectra(
        stems.sum(axis=0),
        _played([desk for _, desk in desks]),
        [LineTimbre(i.key, i.family, i.kind, i.pitched) for i in families],
        HALL_DB,
        sources=OTHER_SOURCES[fonts.FONTS[font].group],
    )
    told = _gathered(from_mix, np.array([k for k, _ in desks]))
    windows = _windows(font, key, fact.stems)
    members = np.flatnonzero(windows.line < fact.strand)
    groups = [Group("strand", members)] if fact.strand else []
    true = stem_spectra(stems, HALL_DB)
    return listen(true, windows, groups, LIMITS), listen(told, windows, groups, LIMITS)


def _ratio(heard: Heard, fact: Fact) -> float:
    judged = heard.groups if fact.strand else heard.lines
    return float(judged.distinct_ratio[0])


def main() -> None:
    heads = [f"{font} {'+' if key else ''}{key}" for font, key in SCENES]
    print("| fact | " + " | ".join(heads) + " |")
    print("|---|" + "---:|" * len(heads))
    for fact in FACTS_TOLD:
        cells = []
        for font, key in SCENES:
            stems, mix = hear(fact, font, key)
            cells.append(f"{_ratio(stems, fact):.2f} / {_ratio(mix, fact):.2f}")
        print(f"| {fact.says} | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
