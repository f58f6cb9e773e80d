"""Whether each stem holds what its lines are written to play: trials with nothing else.

The same trials as on a mix, stem by stem: there no other line can hide a fault. Sound that no
line explains is not looked for in a stem: beside one instrument alone every noise of playing is
some. It is what the mix holds in one place and no stem does.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from auditor.sound.spectrum import RATE_HZ, pooled_power
from auditor.sound.summing import MUCH, STEP_S, left_shares, left_somewhere
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.buses import Bus, Desk
from auditor.spectra.explained import F32, POOLS, Decomposed, Floats, Ints
from auditor.spectra.late_stems import late_runs
from auditor.spectra.mixture import band_power, mix_spectra
from auditor.spectra.octaves import octave_runs
from auditor.spectra.palette import LineTimbre
from auditor.spectra.room import sounds_like_room
from auditor.spectra.separating import Templates
from auditor.spectra.suspicions import FAULTS, Suspicion, Suspicions, suspicions
from auditor.spectra.unwritten import Unwritten

# A stem softer than this (mean square, -100 dB of full scale) holds nothing to be tried;
# that its lines are silent is told elsewhere.
_NOTHING = 1e-10
# Alone, a line that is wrong lies far beyond the limits that were fitted on mixes (6 and more
# on made stems, true ones at most 3.3), and so does what a template does not know.
_BEYOND = 3.0
# A stem of one line speaks for itself: what is called missing in it lies this far below the
# stem's mean, dB, and what is called cut short falls by this much (our choice: a tone of a
# colour that no template has keeps its level, a note that has ended does not).
_MISSING_DB, _ENDED_DB = -30.0, -10.0
# Families whose partials are harmonic; evidence of an octave at which it is half sure, dB: half
# of what is said (our choice).
_BLOWN_OR_BOWED = frozenset({"strings", "woodwind", "saxophone", "brass", "voice"})
_HALF_DB = 10.0
# The same of attacks that come at another time, as a share of what they usually show.
_HALF_SHOWN = 0.2


def stem_suspicions(
    desk: Desk,
    mix: F32,
    notes: PlayedNotes,
    timbres: tuple[LineTimbre, ...],
    gain_db: float,
    templates: Templates,
) -> Suspicions | None:
    """Try the lines of every stem; None if there is nothing to try.

    Parameters
    ----------
    desk
        The stems in their places.
    mix : ndarray, shape (samples,)
        Mono at 44.1 kHz; of no account where `desk` was laid out without one.
    notes, timbres
        Notes and lines of the whole case.
    gain_db
        dB SPL of a full-scale mean square of 1.
    templates
        Where timbres come from.
    """
    told = [
        said
        for bus in desk.buses
        if (said := _of_bus(bus, desk, notes, timbres, gain_db, templates)) is not None
    ]
    if not told:
        return None
    stranger = _in_no_stem(desk, mix)
    return replace(
        told[0],
        unwritten=stranger or told[0].unwritten,
        unwritten_chance=float(stranger is not None),
        foreign=stranger is not None,
        lines=tuple(sorted((x for s in told for x in s.lines), key=lambda x: x.line)),
        passages=_by_itself([x for s in told for x in s.passages], notes),
    )


def _in_no_stem(desk: Desk, mix: F32) -> Unwritten | None:
    """What the mix holds in one place beyond the stems of all lines and their room."""
    if desk.total is None or not desk.total.coherent or desk.rest:
        return None
    known = np.zeros(desk.size, np.float32)
    for bus in (*desk.buses, *desk.room):
        known += bus.samples(desk.size, desk.shelf)
    rest = mix - known
    over = left_somewhere(rest, mix)
    if over is None or over.taken:
        return None
    left = pooled_power(rest)
    if sounds_like_room(band_power(pooled_power(known)), band_power(left)):
        return None
    rise = np.log(np.maximum(left_shares(rest, mix) / MUCH, 1e-12))
    start_s: Floats = STEP_S * np.arange(rise.size, dtype=np.float64)
    rise[(start_s < over.start_s) | (start_s >= over.end_s)] = -1.0
    return Unwritten(
        excess=over.share,
        start_s=start_s,
        end_s=np.asarray(start_s + STEP_S, np.float64),
        rise=rise,
        pitch=np.zeros(rise.size, np.int64),
        power=left[:, :POOLS].sum(axis=0, dtype=np.float64),
        beyond_stems=True,
    )


def _of_bus(
    bus: Bus,
    desk: Desk,
    notes: PlayedNotes,
    timbres: tuple[LineTimbre, ...],
    gain_db: float,
    templates: Templates,
) -> Suspicions | None:
    samples = bus.samples(desk.size, desk.shelf)
    own = np.flatnonzero(np.isin(notes.line, bus.rows))
    if not own.size or float(np.mean(samples.astype(np.float64) ** 2)) < _NOTHING:
        return None
    found: list[Decomposed] = []
    mix_spectra(
        samples, _only(notes, own, bus.rows), tuple(timbres[row] for row in bus.rows), gain_db,
        tuning=templates.tuning, sources=templates.sources, library=templates.library,
        watch=found.append,
    )  # fmt: skip
    said = suspicions(found[0], _BEYOND)
    lines = [_placed(x, own, bus.rows) for x in said.lines]
    passages = [_placed(x, own, bus.rows) for x in said.passages]
    if len(bus.rows) == 1:
        power = samples.astype(np.float64) ** 2
        lines = [
            x if _borne_out(x, power, notes) else replace(x, answer="unverified") for x in lines
        ]
        passages = [x for x in passages if _borne_out(x, power, notes)]
    known = [x for x in lines if x.answer in FAULTS] + passages
    pitched = own[[timbres[row].family in _BLOWN_OR_BOWED for row in notes.line[own]]]
    moved = [x for x in passages if x.answer in ("early", "late")] + _late(samples, notes, own)
    # Of a note that comes late another one sounds in its place: no octave is told of it.
    octaves = [
        x for x in _octaves(samples, notes, pitched, templates.tuning)
        if not any(np.isin(x.notes, other.notes).any() for other in moved)
    ]  # fmt: skip
    heard = [x for x in (*octaves, *moved) if not any(_same(x, other) for other in known)]
    passages += heard
    return replace(said, lines=tuple(lines), passages=tuple(passages))


def _octaves(samples: F32, notes: PlayedNotes, own: Ints, tuning: float) -> list[Suspicion]:
    return [
        Suspicion(
            run.line, "transposed", run.interval,
            run.strength / (run.strength + _HALF_DB), run.notes,
        )
        for run in octave_runs(samples, notes, own, tuning)
    ]  # fmt: skip


def _late(samples: F32, notes: PlayedNotes, own: Ints) -> list[Suspicion]:
    """Passages of a stem that come early or late, told of its line with most of their notes."""
    out = []
    for run in late_runs(samples, notes, own):
        line = int(np.bincount(notes.line[run.notes]).argmax())
        mine = run.notes[notes.line[run.notes] == line]
        word = "late" if run.seconds > 0 else "early"
        sure = run.strength / (run.strength + _HALF_SHOWN)
        out.append(Suspicion(line, word, 0, sure, mine, run.seconds))
    return out


def _by_itself(passages: list[Suspicion], notes: PlayedNotes) -> tuple[Suspicion, ...]:
    """Leave out what is early or late together with another line: that is the place found."""

    def shared(a: Suspicion, b: Suspicion) -> bool:
        on, off = notes.onset_s, notes.offset_s
        return (
            a.line != b.line
            and a.seconds * b.seconds > 0
            and on[a.notes].min() < off[b.notes].max()
            and on[b.notes].min() < off[a.notes].max()
        )

    return tuple(x for x in passages if not any(shared(x, other) for other in passages))


def _same(a: Suspicion, b: Suspicion) -> bool:
    """Whether two say the same kind of fault of common notes."""
    kinds = ["late" if x.answer == "early" else x.answer for x in (a, b)]
    both = kinds[0] == kinds[1] or b.answer == "missing"
    return both and a.line == b.line and bool(np.isin(a.notes, b.notes).any())


def _borne_out(said: Suspicion, power: Floats, notes: PlayedNotes) -> bool:
    """Whether the level of a stem with one line agrees that notes are missing or cut short."""
    if said.answer not in ("missing", "short"):
        return True

    def db(start: float, end: float) -> float:
        first = max(int(start * RATE_HZ), 0)
        span = power[first : max(int(end * RATE_HZ), first + 1)]
        return float(10 * np.log10(span.mean() + 1e-20)) if span.size else -200.0

    on, off = notes.onset_s[said.notes], notes.offset_s[said.notes]
    if said.answer == "missing":
        within = [db(a, b) for a, b in zip(on, off, strict=True)]
        return bool(np.median(within) < 10 * np.log10(power.mean()) + _MISSING_DB)
    left = on + (said.kept + 0.5 * (1.0 - said.kept)) * (off - on)
    fall = [
        db(b, c) - db(a, a + said.kept * (c - a)) for a, b, c in zip(on, left, off, strict=True)
    ]
    return bool(np.median(fall) < _ENDED_DB)


def _only(notes: PlayedNotes, own: Ints, rows: tuple[int, ...]) -> PlayedNotes:
    """Notes of some lines, numbered as if there were no others."""
    kept = {
        f.name: getattr(notes, f.name)[own] for f in fields(notes) if f.name != "timbres"
    }  # fmt: skip
    kept["line"] = np.array([rows.index(int(k)) for k in kept["line"]], dtype=np.int64)
    return PlayedNotes(**kept, timbres=notes.timbres)


def _placed(said: Suspicion, own: Ints, rows: tuple[int, ...]) -> Suspicion:
    """Number a line and its notes as in the whole case again."""
    return replace(said, line=rows[said.line], notes=own[said.notes])
