"""Two short pieces as MusicXML and as sound, for the command line."""

import numpy as np

RATE = 44_100
QUARTER_S = 0.5
# Two pieces of eight bars in 4/4, one MIDI pitch a quarter: no bar of one is in the other.
MARCH = {
    "Flute": [72, 74, 76, 77, 79, 77, 76, 74, 72, 76, 79, 84, 83, 79, 77, 74,
              76, 77, 79, 81, 83, 81, 79, 77, 76, 72, 74, 71, 72, 67, 64, 60],
    "Bassoon": [48, 55, 48, 55, 43, 50, 43, 50, 48, 55, 52, 48, 43, 47, 50, 43,
                48, 52, 55, 53, 43, 50, 47, 43, 48, 45, 41, 43, 48, 43, 48, 48],
}  # fmt: skip
SONG = {
    "Flute": [78, 73, 70, 66, 68, 75, 80, 82, 66, 66, 85, 70, 63, 73, 61, 87,
              70, 68, 66, 61, 63, 82, 80, 66, 75, 73, 85, 61, 78, 70, 73, 66],
    "Bassoon": [42, 42, 54, 54, 46, 46, 51, 51, 42, 49, 54, 42, 51, 58, 49, 37,
                46, 46, 42, 42, 51, 51, 44, 44, 49, 49, 37, 37, 42, 54, 42, 42],
}  # fmt: skip
_NAMES = [("C", 0), ("C", 1), ("D", 0), ("D", 1), ("E", 0), ("F", 0), ("F", 1), ("G", 0),
          ("G", 1), ("A", 0), ("A", 1), ("B", 0)]  # fmt: skip


def note_xml(pitch):
    step, alter = _NAMES[pitch % 12]
    what = (
        f"<pitch><step>{step}</step><alter>{alter}</alter>"
        f"<octave>{pitch // 12 - 1}</octave></pitch>"
        if pitch
        else "<rest/>"
    )
    return f"<note>{what}<duration>1</duration><voice>1</voice><type>quarter</type></note>"


def score_xml(parts):
    names = "".join(
        f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>'
        for k, name in enumerate(parts, 1)
    )
    bodies = ""
    for k, pitches in enumerate(parts.values(), 1):
        bars = ""
        for b in range(0, len(pitches), 4):
            head = (
                "<attributes><divisions>1</divisions><time><beats>4</beats>"
                "<beat-type>4</beat-type></time></attributes>"
                '<sound tempo="120"/>'
                if b == 0
                else ""
            )
            notes = "".join(map(note_xml, pitches[b : b + 4]))
            bars += f'<measure number="{b // 4 + 1}">{head}{notes}</measure>'
        bodies += f'<part id="P{k}">{bars}</part>'
    return (
        f'<score-partwise version="4.0"><part-list>{names}</part-list>{bodies}</score-partwise>'
    )


def tones(pitches):
    """Six partials falling by 6 dB an octave, 10 ms in and 80 ms out."""
    t = np.arange(round(QUARTER_S * RATE)) / RATE
    envelope = np.minimum(1.0, np.minimum(t / 0.01, (QUARTER_S - t) / 0.08))
    out = []
    for pitch in pitches:
        hz = 440.0 * 2 ** ((pitch - 69) / 12)
        out.append(sum(np.sin(2 * np.pi * hz * n * t) / n for n in range(1, 7)) * envelope)
    return np.pad(np.concatenate(out) * 0.1, (RATE // 4, RATE // 2)).astype(np.float32)


def sine(seconds, amplitude=0.1):
    return amplitude * np.sin(2 * np.pi * 440 * np.arange(round(seconds * RATE)) / RATE)
