"""The record of one finding: what a teacher would remark, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass

# What the scoring does, what the rendering does ("silent", "dynamic", "hairpin", "tempo",
# "transposed", "technique", "entry": notes early or late, "short": notes cut short,
# "unwritten": sound that no line explains), what works, and where rendering and forecast part
# ("flattered", "wronged").
KINDS: tuple[str, ...] = (
    "covered", "faint", "idle-doubling", "works", "silent", "accompaniment", "weak-answer",
    "climax", "carrying-doubling", "repetition", "register", "hole", "dynamic", "tempo",
    "flattered", "wronged", "transposed", "technique", "unwritten", "entry", "short", "hairpin",
)  # fmt: skip

CAUTION = (
    "A mock-up is not a room: sample libraries are close-miked, levelled and recorded at "
    "other dynamics than written, so they misjudge live balance. Only players in a room decide."
)


@dataclass(frozen=True, slots=True)
class Cover:
    """One line that covers, with its share of the masking (0 to 1)."""

    line: int
    share: float


@dataclass(frozen=True, slots=True)
class Tried:
    """A change that was heard again, in this rendering or forecast.

    Parameters
    ----------
    words
        The change, as an instruction.
    kind
        ``softer``, ``louder``, ``both``, ``shorter``, ``rest``, ``octave``, ``doubling`` or
        ``player``.
    lines
        Numbers of the lines that change.
    cost
        How large a change it is, 1 for one line by one mark.
    ratio_before, ratio_after
        Distinct ratio of the passage.
    margin_gain_db
        By how much it rises above its masked threshold.
    state
        ``covered``, ``faint`` or ``clear``, as predicted.
    chance
        0 to 1: probability that the state is at least that good.
    """

    words: str
    kind: str
    lines: tuple[int, ...]
    cost: float
    ratio_before: float
    ratio_after: float
    margin_gain_db: float
    state: str
    chance: float


@dataclass(frozen=True, slots=True)
class Finding:
    """What a teacher would remark about some bars.

    Parameters
    ----------
    id
        Stable across reruns: made from kind, parts and bars.
    kind
        One of `KINDS`.
    weight
        0 to 1: how much the score relies on it times how badly it fares (for ``works``:
        how much it relies on it times how well).
    lines, parts
        Numbers concerned, the line itself first.
    strand
        Identifier of the strand or layer, empty if none.
    first_bar, last_bar
        Indices on the played axis.
    start_s, end_s
        Seconds in the sound.
    state
        State of the line or strand in these bars.
    distinct_ratio, margin_db
        Figures in these bars.
    covers
        Coverers, most first.
    register_share
        Share of what is lost in bass, tenor, alto, treble, brilliance.
    reliance
        0 to 1.
    why
        Why the score relies on it, in words.
    cause
        How it is covered, in words.
    remedies
        What to try, the smallest change first.
    confidence
        0 to 1.
    sentence
        What a teacher would write.
    caution
        Said with it.
    tried
        Changes that were heard again, in the order of `remedies`; empty where none was.
    also
        First and last bar of other places of which the same could be said, heaviest first.
    """

    id: str
    kind: str
    weight: float
    lines: tuple[int, ...]
    parts: tuple[int, ...]
    strand: str
    first_bar: int
    last_bar: int
    start_s: float
    end_s: float
    state: str
    distinct_ratio: float
    margin_db: float
    covers: tuple[Cover, ...]
    register_share: tuple[float, ...]
    reliance: float
    why: str
    cause: str
    remedies: tuple[str, ...]
    confidence: float
    sentence: str
    caution: str = CAUTION
    tried: tuple[Tried, ...] = ()
    also: tuple[tuple[int, int], ...] = ()
