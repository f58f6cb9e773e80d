"""Sound files in: one channel at the working rate, with a remark for all that was odd."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from auditor.errors import AudioError
from auditor.sound.containers import missing_share
from auditor.sound.silence import block_levels, check_sounding, silence_remarks
from auditor.sound.spectrum import RATE_HZ

_log = logging.getLogger(__name__)

SHORTEST_S = 1.0
# Below this no partial above the treble of a flute's lowest octave would be left.
LOWEST_RATE_HZ = 4000
_FULL_SCALE = 0.999
_CLIPPED_RUN = 3  # samples in a row; a single one is an honest peak
_DC_SAID = 5e-3  # more than half a step of 8 bits, which is rounding
# Channels without any correlation lose 3 dB in their mean; what loses 10 cancels.
_CANCELLED = 0.1
_OPPOSED = 0.01

# Short, because a block in which the coding breaks off is lost as a whole.
_BLOCK = 1 << 14

_READABLE = "WAV, RF64, W64, FLAC, AIFF, CAF, Ogg, Opus or MP3"


@dataclass(frozen=True, slots=True)
class Sound:
    """A sound, ready to be measured.

    Parameters
    ----------
    samples : ndarray, shape (samples,), float32
        Mean of the channels at 44.1 kHz, full scale 1, without constant offset.
    rate_hz, channels
        As in the file.
    duration_s
        Seconds that could be decoded.
    name
        File name.
    remarks
        One sentence for each thing noticed.
    side : ndarray, shape (samples,), float32
        Half of left less right, of two channels; None of others, and where it was not read.
    """

    samples: NDArray[np.float32]
    rate_hz: int
    channels: int
    duration_s: float
    name: str
    remarks: tuple[str, ...] = ()
    side: NDArray[np.float32] | None = None


@dataclass(slots=True)
class _Tally:
    """What is counted while the blocks go by."""

    rate_hz: int = 0
    frames: int = 0
    clipped: int = 0
    first_clip: int = -1
    channel_power: NDArray[np.float64] = field(default_factory=lambda: np.zeros(1))
    channel_sum: NDArray[np.float64] = field(default_factory=lambda: np.zeros(1))
    mean_power: float = 0.0
    broken: str = ""

    def add(self, block: NDArray[np.float32], mono: NDArray[np.float32]) -> None:
        start, length = _clipped_runs(block)
        if length and self.first_clip < 0:
            self.first_clip = self.frames + start
        self.clipped += length
        wide = block.astype(np.float64)
        self.channel_power = self.channel_power + (wide**2).sum(axis=0)
        self.channel_sum = self.channel_sum + wide.sum(axis=0)
        self.mean_power += float(np.dot(mono, mono.astype(np.float64)))
        self.frames += len(block)

    def kept(self) -> float:
        """Power of the mean over mean power of the channels, constant parts left out."""
        still = self.channel_sum / self.frames
        loud = float((self.channel_power / self.frames - still**2).mean())
        mean = self.mean_power / self.frames - float(still.mean()) ** 2
        return 1.0 if loud <= 1e-12 else mean / loud


@dataclass(frozen=True, slots=True)
class Stream:
    """A sound that is read piece by piece, for whoever need not hold all of it.

    Parameters
    ----------
    blocks
        Each call begins anew: pieces, mono at 44.1 kHz, shape (samples,) each.
    duration_s
        Seconds that could be decoded.
    name
        File name.
    remarks
        One sentence for each thing noticed.
    """

    blocks: Callable[[], Iterator[NDArray[np.float32]]]
    duration_s: float
    name: str
    remarks: tuple[str, ...] = ()


def stream_sound(path: Path | str) -> Stream:
    """Look through a sound file once, to be read piece by piece afterwards.

    Raises
    ------
    AudioError
        As `read_sound`.
    """
    path = Path(path)
    _check_file(path)
    tally = _Tally()
    pieces = (piece for piece in _pieces(path, _mean, tally) if piece.size)
    loudest = max(float(block_levels(piece, RATE_HZ).max()) for piece in pieces)
    _check_length(path, tally.frames / tally.rate_hz)
    remarks = [*_rate_remarks(tally.rate_hz), *_channel_remarks(tally)]
    fold: _Fold = _mean
    if tally.kept() < _OPPOSED:
        channel = int(np.argmax(tally.channel_power))
        fold = _one(channel)
        remarks.append(f"the channels cancel each other, so channel {channel + 1} was taken")
    else:
        check_sounding(loudest, path.name)
    remarks += _clipping_remarks(tally, tally.rate_hz)
    remarks += _truncation_remarks(path, tally, tally.rate_hz)
    return Stream(
        blocks=lambda: _pieces(path, fold, _Tally()),
        duration_s=tally.frames / tally.rate_hz,
        name=path.name,
        remarks=tuple(remarks),
    )


def read_sound(path: Path | str, *, may_be_silent: bool = False, stereo: bool = False) -> Sound:
    """Read a sound file.

    Any rate from 4 kHz, depth and number of channels is taken; what that costs is
    said in the remarks.

    Parameters
    ----------
    path
        WAV, RF64, W64, FLAC, AIFF, CAF, Ogg, Opus or MP3.
    may_be_silent
        True for a stem, which may hold nothing.
    stereo
        True to read the side of two channels as well.

    Raises
    ------
    AudioError
        If the file is missing, empty, no sound, in a coding that cannot be read,
        damaged, shorter than a second, or silent though it must not be.
    """
    path = Path(path)
    _check_file(path)
    samples, tally, rate = _decode(path, _mean)
    opposed = tally.kept() < _OPPOSED
    remarks = [*_rate_remarks(rate), *_channel_remarks(tally)]
    if opposed:
        loudest = int(np.argmax(tally.channel_power))
        samples, _, _ = _decode(path, _one(loudest))
        remarks.append(
            f"the channels cancel each other, so channel {loudest + 1} was taken alone; "
            f"check the polarity of the export"
        )
    _check_length(path, tally.frames / rate)
    offset = float(samples.mean(dtype=np.float64))
    # A smaller one may be the music's own, and would be added to its rests.
    if abs(offset) > _DC_SAID:
        samples = samples - np.float32(offset)
        remarks.append(f"a constant offset of {100 * offset:.1f} % of full scale was removed")
    remarks += _clipping_remarks(tally, rate)
    if not may_be_silent:
        remarks += silence_remarks(samples, RATE_HZ, path.name)
    remarks += _truncation_remarks(path, tally, rate)
    for remark in remarks:
        _log.info("%s: %s", path.name, remark)
    return Sound(
        samples=samples,
        rate_hz=rate,
        channels=tally.channel_power.size,
        duration_s=tally.frames / rate,
        name=path.name,
        remarks=tuple(remarks),
        side=_decode(path, _half_difference)[0]
        if stereo and not opposed and tally.channel_power.size == 2
        else None,
    )


def _check_file(path: Path) -> None:
    if not path.exists():
        raise AudioError(f"{path} does not exist; check the name of the sound file")
    if not path.is_file():
        raise AudioError(f"{path} is not a file; name a sound file")
    try:
        with path.open("rb") as file:
            head = file.read(12)
    except OSError as error:
        raise AudioError(f"{path} cannot be opened ({error.strerror}); check it") from error
    if not head:
        raise AudioError(f"{path} is empty; export the mix again")
    # ISO base media (MPEG-4) and ADTS frame heads.
    if head[4:8] == b"ftyp" or head[:2] in (b"\xff\xf1", b"\xff\xf9"):
        raise AudioError(
            f"{path} holds AAC or other MPEG-4 sound, which cannot be decoded here; "
            f"convert it to WAV or FLAC"
        )


def _open(path: Path) -> soundfile.SoundFile:
    try:
        file = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, TypeError) as error:
        reason = str(getattr(error, "error_string", error)).rstrip(".")
        if missing_share(path) > 0:
            raise AudioError(
                f"{path} is cut short and cannot be decoded ({reason}); copy or export it again"
            ) from error
        raise AudioError(
            f"{path} is not a sound file that can be read ({reason}); give {_READABLE}"
        ) from error
    if file.samplerate < LOWEST_RATE_HZ:
        raise AudioError(
            f"{path} is sampled at {file.samplerate} Hz; export it at 44100 Hz or more"
        )
    return file


_Fold = Callable[[NDArray[np.float32]], NDArray[np.float32]]


def _mean(block: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(block.mean(axis=1))


def _one(channel: int) -> _Fold:
    return lambda block: block[:, channel].copy()


def _half_difference(block: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray((block[:, 0] - block[:, 1]) * np.float32(0.5))


def _decode(path: Path, fold: _Fold) -> tuple[NDArray[np.float32], _Tally, int]:
    """One channel out of all, as `fold` has it, at the working rate."""
    tally = _Tally()
    out = list(_pieces(path, fold, tally))
    return np.concatenate(out), tally, tally.rate_hz


def _pieces(path: Path, fold: _Fold, tally: _Tally) -> Iterator[NDArray[np.float32]]:
    """The same piece by piece; the tally is whole when the last one has been taken."""
    with _open(path) as file:
        tally.rate_hz = rate = int(file.samplerate)
        resampler = soxr.ResampleStream(rate, RATE_HZ, 1, dtype="float32", quality="HQ")
        for block in _blocks(file, tally):
            _check_numbers(path, block, tally.frames, rate)
            mono = fold(block)
            tally.add(block, mono)
            yield resampler.resample_chunk(mono) if rate != RATE_HZ else mono
    if not tally.frames:
        raise AudioError(f"{path} holds no samples; export the mix again")
    if rate != RATE_HZ:
        yield resampler.resample_chunk(np.zeros(0, dtype=np.float32), last=True)


def _blocks(file: soundfile.SoundFile, tally: _Tally) -> Iterator[NDArray[np.float32]]:
    """Blocks until the end, or until the coding breaks off."""
    while True:
        try:
            block = file.read(_BLOCK, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError as error:
            tally.broken = str(error.error_string).rstrip(".")
            return
        if not len(block):
            return
        yield block


def _check_numbers(path: Path, block: NDArray[np.float32], done: int, rate: int) -> None:
    bad = ~np.isfinite(block).all(axis=1)
    if bad.any():
        at = (done + int(np.argmax(bad))) / rate
        raise AudioError(
            f"{path} holds samples that are not numbers (first at {at:.2f} s); "
            f"export the mix again"
        )


def _check_length(path: Path, duration_s: float) -> None:
    if duration_s < SHORTEST_S:
        raise AudioError(
            f"{path} lasts {duration_s:.2f} s; expected at least {SHORTEST_S:.0f} s of music"
        )


def _clipped_runs(block: NDArray[np.float32]) -> tuple[int, int]:
    """First frame and number of samples in runs at full scale, over all channels."""
    full = np.abs(block) >= _FULL_SCALE
    if not full.any():
        return -1, 0
    run = full[: -(_CLIPPED_RUN - 1)].copy()
    for k in range(1, _CLIPPED_RUN):
        run &= full[k : len(full) - (_CLIPPED_RUN - 1) + k]
    inside = np.zeros_like(full)
    for k in range(_CLIPPED_RUN):
        inside[k : len(run) + k] |= run
    frames = inside.any(axis=1)
    return int(np.argmax(frames)), int(inside.sum())


def _rate_remarks(rate: int) -> list[str]:
    if rate < RATE_HZ:
        return [
            f"the file is sampled at {rate} Hz: nothing above {rate / 2000:g} kHz can be judged"
        ]
    if rate > 2 * RATE_HZ:
        return [f"the file is sampled at {rate} Hz: sound above 22 kHz was left out"]
    return []


def _channel_remarks(tally: _Tally) -> list[str]:
    channels = tally.channel_power.size
    remarks = []
    if channels > 2:
        remarks.append(f"{channels} channels were averaged into one")
    still = tally.channel_power <= 1e-8 * tally.channel_power.max()
    if channels > 1 and still.any() and not still.all():
        which = ", ".join(str(k + 1) for k in np.flatnonzero(still))
        remarks.append(f"of {channels} channels, these are silent: {which}")
    if _OPPOSED <= tally.kept() < _CANCELLED:
        lost = -10.0 * np.log10(tally.kept())
        remarks.append(
            f"the channels partly cancel each other: {lost:.0f} dB are lost in one channel"
        )
    return remarks


def _clipping_remarks(tally: _Tally, rate: int) -> list[str]:
    if not tally.clipped:
        return []
    return [
        f"the sound is clipped ({tally.clipped} samples at full scale, first at "
        f"{tally.first_clip / rate:.2f} s): what is heard there includes distortion"
    ]


def _truncation_remarks(path: Path, tally: _Tally, rate: int) -> list[str]:
    seconds = tally.frames / rate
    if tally.broken:
        return [f"the file breaks off after {seconds:.1f} s ({tally.broken}); export it again"]
    missing = missing_share(path)
    if missing < 1e-4:
        with _open(path) as file:
            if 0 < tally.frames < file.frames < 1 << 62:
                missing = 1.0 - tally.frames / file.frames
    if missing < 1e-4:
        return []
    return [
        f"the file is cut short: its header promises {seconds / (1 - missing):.1f} s, "
        f"{seconds:.1f} s are there; copy or export it again"
    ]
