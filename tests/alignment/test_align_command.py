import json

import numpy as np
import pytest
import soundfile
from music_made import melody

from auditor.cli import main

RATE_HZ = 44_100


def musicxml(plan: list[tuple[float, float, int]]) -> str:
    """Top voice of a plan as one oboe part, four quarters a bar."""
    names = ("C", "C", "D", "D", "E", "F", "F", "G", "G", "A", "A", "B")
    bars = []
    for bar in range(round(max(o + d for o, d, _ in plan) / 4)):
        notes = [n for n in plan if n[0] // 4 == bar and n[2] >= 67]
        xml = "".join(
            f"<note><pitch><step>{names[p % 12]}</step>"
            f"{'<alter>1</alter>' if p % 12 in (1, 3, 6, 8, 10) else ''}"
            f"<octave>{p // 12 - 1}</octave></pitch><duration>{round(2 * d)}</duration></note>"
            for _, d, p in notes
        )
        head = "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4"
        head += "</beat-type></time></attributes>"
        bars.append(f'<measure number="{bar + 1}">{head if not bar else ""}{xml}</measure>')
    part = '<score-part id="P1"><part-name>Oboe</part-name></score-part>'
    return (
        f'<score-partwise version="4.0"><part-list>{part}</part-list>'
        f'<part id="P1">{"".join(bars)}</part></score-partwise>'
    )


def tones(plan: list[tuple[float, float, int]]) -> np.ndarray:
    """Half a second a quarter, from 0.5 s on."""
    out = np.zeros(round(RATE_HZ * (2 + max(o + d for o, d, _ in plan) / 2)))
    for onset, length, pitch in plan:
        time = np.arange(round(0.5 * length * RATE_HZ)) / RATE_HZ
        hz = 440 * 2 ** ((pitch - 69) / 12)
        wave = sum(np.sin(2 * np.pi * hz * k * time) / k**1.5 for k in range(1, 6))
        start = round((0.5 + onset / 2) * RATE_HZ)
        gate = np.clip(np.minimum(time, time[::-1]) / 0.02, 0, 1)
        out[start : start + time.size] += 0.1 * wave * gate
    return out.astype(np.float32)


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    folder = tmp_path_factory.mktemp("case")
    plan = [n for n in melody(31, 12) if n[2] >= 67]
    (folder / "page.musicxml").write_text(musicxml(plan), encoding="utf-8")
    soundfile.write(folder / "right.wav", tones(plan), RATE_HZ)
    other = [n for n in melody(77, 12) if n[2] >= 67]
    soundfile.write(folder / "wrong.wav", tones(other), RATE_HZ)
    return folder


def run(*words: object) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(w) for w in words])
    return int(left.value.code or 0)


def test_the_map_says_when_each_bar_sounds(case, tmp_path):
    assert run("align", case / "page.musicxml", case / "right.wav", "-o", tmp_path / "map") == 0
    record = json.loads((tmp_path / "map" / "alignment.json").read_text(encoding="utf-8"))
    starts = [bar["start_s"] for bar in record["bars"]]
    # A bar lasts two seconds, the first begins at half a second: how the sound was made. One
    # bar begins by repeating the note before it, which the sound hardly tells.
    off = np.abs(np.array(starts) - (0.5 + 2.0 * np.arange(12)))
    assert np.sum(off <= 0.05) >= 11
    assert off.max() <= 0.25


def test_a_wrong_sound_is_refused_with_code_4_and_nothing_is_written(case, tmp_path, capsys):
    code = run("align", case / "page.musicxml", case / "wrong.wav", "-o", tmp_path / "map")
    assert code == 4
    assert not (tmp_path / "map").exists()
    assert "check that the sound and the score are the same piece" in capsys.readouterr().err


def test_a_map_is_not_written_over_without_force(case, tmp_path, capsys):
    place = tmp_path / "map"
    assert run("align", case / "page.musicxml", case / "right.wav", "-o", place) == 0
    assert run("align", case / "page.musicxml", case / "right.wav", "-o", place) == 2
    assert "--force" in capsys.readouterr().err
    assert run("align", case / "page.musicxml", case / "right.wav", "-o", place, "--force") == 0
