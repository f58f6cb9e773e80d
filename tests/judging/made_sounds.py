"""Pages and tones made together: what each player has, how loud, and the whole audit of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from auditor.auditing import Audit, audit
from auditor.case import Case

RATE_HZ, TEMPO = 44_100, 96
QUARTER_S = 60 / TEMPO
_STEPS = ("C", "C", "D", "D", "E", "F", "F", "G", "G", "A", "A", "B")

# Onset in the bar, length, pitch; pitch 0 is a stroke of noise.
Notes = Sequence[tuple[float, float, int]]


@dataclass(frozen=True)
class Player:
    """A part: its notes bar by bar, the fall of its partials (dB an octave), its levels.

    `level` gives dB re full scale in a bar; `dies` is the time in which a tone falls by 60 dB,
    seconds, 0 for tones that are held; `mark` the dynamic in a bar; `off` by how many
    semitones its notes sound elsewhere than written.
    """

    name: str
    notes: Callable[[int], Notes]
    level: Callable[[int], float]
    fall: float = 7.0
    dies: float = 0.0
    mark: Callable[[int], str] = lambda bar: "mf"
    off: Callable[[int], int] = lambda bar: 0


def _page(players: Sequence[Player], bars: int) -> str:
    heads, bodies = "", ""
    for k, player in enumerate(players, 1):
        heads += f'<score-part id="P{k}"><part-name>{player.name}</part-name></score-part>'
        body, last = "", ""
        for bar in range(bars):
            mark = player.mark(bar)
            body += f'<measure number="{bar + 1}">'
            if bar == 0:
                body += (
                    "<attributes><divisions>4</divisions><time><beats>4</beats>"
                    f'<beat-type>4</beat-type></time></attributes><sound tempo="{TEMPO}"/>'
                )
            if mark != last:
                body += (
                    f"<direction><direction-type><dynamics><{mark}/></dynamics>"
                    f"</direction-type></direction>"
                )
                last = mark
            body += _measure(player.notes(bar)) + "</measure>"
        bodies += f'<part id="P{k}">{body}</part>'
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        f"<part-list>{heads}</part-list>{bodies}</score-partwise>"
    )


def _measure(notes: Notes) -> str:
    out, at = "", 0.0
    for onset, length, pitch in notes:
        if onset > at:
            out += f"<note><rest/><duration>{int(4 * (onset - at))}</duration></note>"
        place = (
            f"<pitch><step>{_STEPS[pitch % 12]}</step>"
            f"{'<alter>1</alter>' * (pitch % 12 in (1, 3, 6, 8, 10))}"
            f"<octave>{pitch // 12 - 1}</octave></pitch>"
            if pitch
            else "<unpitched><display-step>C</display-step><display-octave>5</display-octave>"
            "</unpitched>"
        )
        out += f"<note>{place}<duration>{int(4 * length)}</duration></note>"
        at = onset + length
    return out or '<note><rest measure="yes"/><duration>16</duration></note>'


def _tone(player: Player, pitch: int, seconds: float) -> NDArray[np.float64]:
    time = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    if pitch:
        hz = 440.0 * 2 ** ((pitch - 69) / 12)
        tone = sum(
            10 ** (-player.fall * np.log2(k) / 20) * np.sin(2 * np.pi * k * hz * time + k * k)
            for k in range(1, min(24, int(12_000 / hz)) + 1)
        )
    else:
        tone = np.random.default_rng(1).standard_normal(time.size)
    tone = tone / np.sqrt(np.mean(np.square(tone)))
    if player.dies:
        tone = tone * 10 ** (-3 * time / player.dies)
    return np.asarray(tone * np.minimum(1.0, np.minimum(time, time[::-1]) / 0.02))


def _stem(player: Player, bars: int) -> NDArray[np.float32]:
    out = np.zeros(int((bars * 4 * QUARTER_S + 1.5) * RATE_HZ))
    for bar in range(bars):
        for onset, length, pitch in player.notes(bar):
            sounding = pitch + player.off(bar) if pitch else 0
            tone = _tone(player, sounding, max(0.94 * length * QUARTER_S, player.dies / 2))
            start = int((0.5 + QUARTER_S * (4 * bar + onset)) * RATE_HZ)
            tone = tone[: out.size - start] * 10 ** (player.level(bar) / 20)
            out[start : start + tone.size] += tone
    return out.astype(np.float32)


def audited(
    folder: Path, players: Sequence[Player], bars: int = 8, layer: Player | None = None
) -> Audit:
    """Write page, stems and mix, and audit them as a user would; `layer` has no stem."""
    stems = [_stem(player, bars) for player in players]
    (folder / "stems").mkdir()
    (folder / "score.musicxml").write_text(_page(players, bars), encoding="utf-8")
    mix = np.sum([*stems, *([_stem(layer, bars)] if layer else [])], axis=0)
    soundfile.write(folder / "mix.wav", mix, RATE_HZ, subtype="FLOAT")
    for player, samples in zip(players, stems, strict=True):
        where = folder / "stems" / f"{player.name}.wav"
        soundfile.write(where, samples, RATE_HZ, subtype="FLOAT")
    case = Case(folder / "score.musicxml", folder / "mix.wav", folder / "stems")
    return audit(case, room_gain_db=None)
