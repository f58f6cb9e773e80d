"""Renders of the calibration kit by the made orchestra: from a font, or from recorded notes."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import fonts
import numpy as np
import soundfile
from mixes import Performance
from mixes_music import MadePart, Written
from mixes_players import BRIGHTER_DB, CHAIRS, PIZZICATO_PROGRAM, Chair, power_db
from mixes_recorded import Recordings
from mixes_sound import Samples, colour, in_room, room, velocity

from auditor.learning.listing import Render, Wanted, read_list

KIT_NAMES = ", ".join(
    dict.fromkeys(
        "solo violin" if name == "solo-violin" else chair.instrument.replace("-", " ")
        for name, chair in CHAIRS.items()
    )
)
_PEAK = np.float32(0.7)


def make_kit(folder: Path) -> None:
    """By the program's own command, for every chair of the made orchestra."""
    command = [sys.executable, "-m", "auditor", "kit", "--instruments", KIT_NAMES]
    subprocess.run([*command, "-o", str(folder), "--force"], check=True, capture_output=True)


def template_key(name: str) -> str:
    """Key of a chair's templates."""
    chair = CHAIRS[name]
    return "violin-solo" if name == "solo-violin" else chair.instrument


def chair_of(sheet: Render) -> str:
    """Name of the chair that plays a sheet."""
    plain = sheet.key.removesuffix("+pizz")
    return next(name for name in CHAIRS if template_key(name) == plain)


@dataclass(frozen=True, slots=True)
class Players:
    """Who plays a kit: a font, or recorded notes where there are any."""

    font: str
    recordings: Recordings | None = None

    def reach(self, sheet: Render, notes: Sequence[Wanted]) -> tuple[Wanted, ...]:
        """The notes that can be played."""
        if self.recordings is None:
            return tuple(n for n in notes if 0 < n.pitch < 128)
        takes_for = self.recordings.takes_for
        return tuple(n for n in notes if takes_for(_performance(sheet, (n,))) is not None)

    def play(self, sheet: Render, ways: Sequence[Sequence[Wanted]], chair: str = "") -> Samples:
        """Play several note lists of a sheet, shape (lists, samples).

        They are brightened with the dynamic as the made orchestra's parts are, and not
        mixed; another chair's patch may play them.
        """
        player = CHAIRS[chair or chair_of(sheet)]
        plucked = sheet.key.endswith("+pizz")
        seconds = sheet.notes[-1].end_s + 1.0
        if self.recordings is None:
            voices = [fonts.Voice(_keys(notes, player, plucked)) for notes in ways]
            sounds = fonts.play(voices, self.font, seconds)
        else:
            size = round((seconds + fonts.TAIL_S) * fonts.RATE_HZ)
            sounds = np.zeros((len(ways), size), np.float32)
            for k, notes in enumerate(ways):
                show = _performance(sheet, self.reach(sheet, notes))
                found = self.recordings.play(show, size, np.random.default_rng(2))
                if found is not None:
                    sounds[k] = found
        brighter = BRIGHTER_DB.get(player.family, 0.3)
        out = []
        for sound, notes in zip(sounds, ways, strict=True):
            onsets = np.array([n.start_s for n in notes])
            steps = np.array([n.dynamic for n in notes], float)
            out.append(colour(sound, onsets, steps, brighter))
        return np.asarray(out, np.float32) * _PEAK / np.abs(out[0]).max()


def _keys(notes: Sequence[Wanted], chair: Chair, plucked: bool) -> tuple[fonts.Played, ...]:
    loudest = power_db(chair.instrument, 5, players=chair.players)
    program = PIZZICATO_PROGRAM if plucked else chair.program
    played = []
    for n in notes:
        power = power_db(chair.instrument, n.dynamic, players=chair.players, pizzicato=plucked)
        struck = velocity(power - loudest)
        played.append(fonts.Played(n.start_s, n.end_s, n.pitch, struck, program))
    return tuple(played)


def _performance(sheet: Render, notes: Sequence[Wanted]) -> Performance:
    plucked = sheet.key.endswith("+pizz")
    written = [
        Written(n.start_s, n.end_s - n.start_s, n.pitch, n.dynamic, plucked) for n in notes
    ]
    return Performance(
        MadePart(chair_of(sheet), "melody", tuple(written)),
        np.array([n.start_s for n in notes]),
        np.array([n.end_s for n in notes]),
    )


def render_plain(kit: Path, font: str, out: Path) -> None:
    """The kit's MIDI files as they are."""
    for midi in sorted(kit.glob("*.mid")):
        command = ["fluidsynth", "-ni", "-q", "-g", "0.4", "-r", "44100", "-R", "0", "-C", "0"]
        command += ["-O", "float", "-T", "wav", "-F", str(out / f"{midi.stem}.wav")]
        command += [str(fonts.require(font)), str(midi)]
        subprocess.run(command, check=True, capture_output=True)


def render(kit: Path, players: Players, out: Path, *, wet: bool = False) -> None:
    """Every sheet that the players have half the notes of, in a room if asked for."""
    response = room(np.random.default_rng(1)) if wet else None
    for sheet in read_list(kit):
        notes = players.reach(sheet, sheet.notes)
        if len(notes) < len(sheet.notes) / 2:
            continue
        sound = players.play(sheet, [notes])[0]
        sound = sound if response is None else in_room(sound, response)
        soundfile.write(out / f"{sheet.name}.wav", sound, fonts.RATE_HZ, subtype="FLOAT")
