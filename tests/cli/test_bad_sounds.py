"""Sounds that cannot be used, and sounds that are of another piece."""

import numpy as np
import pytest
import soundfile


def with_nan(made):
    out = made.sine(4.0)
    out[made.RATE] = np.nan
    return out


@pytest.mark.parametrize(
    ("samples", "match"),
    [
        (lambda made: made.sine(0.5), "lasts 0.50 s; expected at least 1 s"),
        (lambda made: np.zeros(4 * made.RATE), "is silent"),
        (with_nan, r"not numbers \(first at 1\.00 s\)"),
        (lambda _: np.zeros(0), "holds no samples"),
    ],
    ids=["short", "silent", "nan", "no-samples"],
)
def test_sounds_that_cannot_be_used(auditor, files, samples, match, refused, made, place):
    mix = place / "mix.wav"
    soundfile.write(mix, samples(made), made.RATE, subtype="FLOAT")
    refused(auditor("audit", files / "march.musicxml", mix, "-o", "result"), 3, match)


@pytest.mark.parametrize("command", ["audit", "align"])
def test_silence(auditor, files, made, place, command, refused):
    """Read in one piece or in many, from 16-bit noughts or far below 16 bits."""
    mix = place / "mix.wav"
    for sound in (np.zeros(4 * made.RATE), made.sine(4.0, 1e-6)):
        soundfile.write(mix, sound, made.RATE, subtype="FLOAT")
        refused(auditor(command, files / "march.musicxml", mix), 3, "mix.wav is silent")


# ISO/IEC 14496-12, 4.3: a file begins with a box of type ftyp and its major brand.
M4A = b"\x00\x00\x00\x20ftypM4A \x00\x00\x02\x00M4A mp42isom\x00\x00\x00\x00" + bytes(4000)


@pytest.mark.parametrize(
    ("name", "content", "match"),
    [
        ("mix.m4a", M4A, "convert it to WAV or FLAC"),
        ("mix.wav", b"", "is empty"),
        (
            "mix.wav",
            b"this is no sound at all, only words",
            "not a sound file that can be read",
        ),
        ("mix.mp3", bytes(5000), "not a sound file that can be read"),
    ],
    ids=["m4a", "empty", "words", "noughts"],
)
def test_files_that_are_no_sound(auditor, files, name, content, match, refused, place):
    mix = place / name
    mix.write_bytes(content)
    refused(auditor("audit", files / "march.musicxml", mix, "-o", "result"), 3, match)


def test_missing_sound(auditor, files, refused):
    left = auditor("audit", files / "march.musicxml", files / "none.wav", "-o", "result")
    refused(left, 3, "does not exist")


def test_files_in_the_wrong_order(auditor, files, refused):
    refused(
        auditor("audit", files / "march.wav", files / "march.musicxml"), 3, "not readable XML"
    )


def test_stem_missing(auditor, files, refused, place):
    stems = place
    (stems / "Flute.wav").write_bytes((files / "march-stems" / "Flute.wav").read_bytes())
    left = auditor("audit", files / "march.musicxml", "--stems", stems, "-o", "result")
    refused(left, 2, "no stem was found for Bassoon; name each file after its part")


def test_stems_folder_missing_or_without_sound(auditor, files, refused, place):
    score = files / "march.musicxml"
    refused(auditor("audit", score, "--stems", files / "none"), 2, "is not a folder")
    empty = place
    refused(auditor("audit", score, "--stems", empty), 2, "holds no sound files")


WRONG_PIECE = "check that (the sound and the score are the same piece|they belong together)"


@pytest.mark.parametrize(("score", "sound"), [("march", "song"), ("song", "march")])
def test_wrong_piece(auditor, files, score, sound, refused):
    left = auditor("audit", files / f"{score}.musicxml", files / f"{sound}.wav", "-o", "result")
    refused(left, 4, WRONG_PIECE)


def test_noise_is_no_piece(auditor, files, refused, made, place):
    mix = place / "mix.wav"
    rng = np.random.default_rng(1)
    soundfile.write(mix, 0.1 * rng.standard_normal(16 * made.RATE), made.RATE)
    refused(auditor("audit", files / "march.musicxml", mix, "-o", "result"), 4, WRONG_PIECE)


def test_right_piece_in_another_key(auditor, files, refused, made, place):
    mix = place / "mix.wav"
    moved = [made.tones([pitch + 3 for pitch in pitches]) for pitches in made.MARCH.values()]
    soundfile.write(mix, sum(moved), made.RATE)
    left = auditor("audit", files / "march.musicxml", mix, "-o", "result")
    refused(left, 4, "3 semitones higher than the score")
