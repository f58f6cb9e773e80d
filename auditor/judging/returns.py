"""A tune that comes back: scored and balanced as before, or in a new colour that speaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import length_factor
from auditor.findings.wording import bars_named, opening
from auditor.intent.texture import Texture
from auditor.judging.balance import line_sone
from auditor.judging.passages import line_ratio
from auditor.judging.saying import remark
from auditor.judging.scene import FloatArray, Scene, middle

# A return repeats so many bars, at least so many later, with so many notes in all.
BARS, APART, NOTES = 4, 8, 8
# Marks and loudness of every line within these count as the same (a fifth in sone is about
# a quarter of a dynamic step; our choice).
SAME_MARK, SAME_LOUDNESS = 0.5, 0.2
MOST = 1

Key = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Return:
    """Bars `here` to `here` + `bars` - 1 bring what `before` brought, led by these rows."""

    before: int
    here: int
    bars: int
    led_before: int
    led_here: int


def _leaders(s: Scene) -> list[int]:
    """Row of the line that leads each bar with the greatest reliance; -1 for none."""
    out = []
    for b in range(len(s.score.bars)):
        rows = [i for i, row in enumerate(s.intent.role) if row[b] == "leading"]
        out.append(max(rows, key=lambda i: float(s.intent.reliance[i, b]), default=-1))
    return out


def _shape(texture: Texture, row: int, bar: int) -> Key:
    """Onsets and steps of a line in a bar; the same at any pitch."""
    a, z = texture.starts[bar], texture.starts[bar + 1]
    at = np.flatnonzero(texture.onset[row, a:z])
    steps = np.diff(texture.top[row, a + at].astype(int))
    return (int(z - a), *at.tolist(), -1, *steps.tolist())


def find_returns(s: Scene, texture: Texture) -> list[Return]:
    """Find leading lines whose bars come back, longest first, other passes left aside."""
    lead = _leaders(s)
    keys = [_shape(texture, i, b) if i >= 0 else () for b, i in enumerate(lead)]
    places: dict[Key, list[int]] = {}
    for b, key in enumerate(keys):
        places.setdefault(key, []).append(b)
    found: list[Return] = []
    for here, key in enumerate(keys):
        for before in places[key] if key else ():
            if before > here - APART or (
                here and before and keys[here - 1] == keys[before - 1]
            ):
                continue
            size = 0
            while (
                here + size < len(keys)
                and before + size < here
                and (keys[here + size] == keys[before + size] != ())
            ):
                size += 1
            notes = sum((len(keys[here + k]) - 1) // 2 for k in range(size))
            written = {s.score.bars[b].written_index for b in (before, here)}
            if size >= BARS and notes >= NOTES and len(written) == 2:
                found.append(Return(before, here, size, lead[before], lead[here]))
    return sorted(found, key=lambda r: (-r.bars, r.here))


def _same(s: Scene, sone: FloatArray, r: Return) -> bool:
    """Whether the same lines play at the same marks and come out as loud."""
    for k in range(r.bars):
        a, b = r.before + k, r.here + k
        if s.sounding(a, a) != s.sounding(b, b):
            return False
    for number in s.sounding(r.here, r.here + r.bars - 1):
        spans = [(x, x + r.bars - 1) for x in (r.before, r.here)]
        notes = [s.notes((number,), *span) for span in spans]
        marks = [np.mean([s.score.notes[int(n)].dynamic for n in x]) for x in notes]
        loud = [float(np.nanmean(sone[s.row[number], a : z + 1])) for a, z in spans]
        if abs(marks[0] - marks[1]) > SAME_MARK or not np.isfinite(loud).all():
            return False
        if abs(loud[0] - loud[1]) > SAME_LOUDNESS * max(loud):
            return False
    return True


def _unvaried(s: Scene, r: Return) -> Finding:
    line = s.score.lines[r.led_here]
    span = (r.here, r.here + r.bars - 1)
    here = bars_named(s.score.bars, *span)
    before = bars_named(s.score.bars, r.before, r.before + r.bars - 1)
    return remark(
        s, "repetition", (line.number,), span,
        weight=0.2 * length_factor(s.length(*span)), state="clear",
        why=f"it brings {before} again", cause="scoring, marks and balance are the same",
        remedies=("hold something back the first time", "add or take away a colour now"),
        sentence=(
            f"{opening(here)} bring {before} again with the same scoring, marks "
            f"and balance. If the return should mean more, hold something back the first time."
        ),
    )  # fmt: skip


def _new_colour(s: Scene, r: Return) -> Finding | None:
    """Praise a tune that returns in another instrument and is clear there."""
    line, old = s.score.lines[r.led_here], s.score.lines[r.led_before]
    span = (r.here, r.here + r.bars - 1)
    ratio = [line_ratio(s, line.number, b, s.heard.notes.distinct_ratio)
             for b in range(span[0], span[1] + 1)]  # fmt: skip
    if line.instrument.key == old.instrument.key:
        return None
    if not middle(np.array(ratio), np.ones(r.bars)) >= s.limits.clear:
        return None
    here = bars_named(s.score.bars, *span)
    before = bars_named(s.score.bars, r.before, r.before + r.bars - 1)
    return remark(
        s, "works", (line.number,), span,
        weight=0.6 * length_factor(s.length(*span)), state="clear",
        why=f"the tune of {before} returns in another colour",
        sentence=(
            f"{opening(here)}: what {old.name} had in {before} returns in "
            f"{line.name}, and the new colour comes through. Leave it as it is."
        ),
    )  # fmt: skip


def find_repetitions(s: Scene, texture: Texture) -> tuple[list[Finding], list[Finding]]:
    """Find returns that change nothing, and returns in a new colour that speaks."""
    sone = line_sone(s)
    found = find_returns(s, texture)
    same = [_unvaried(s, r) for r in found if r.led_here == r.led_before and _same(s, sone, r)]
    praise = [p for r in found if (p := _new_colour(s, r)) is not None]
    return same[:MOST], praise[:MOST]
