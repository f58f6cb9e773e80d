"""Winds: places to breathe and the speed of the tongue.

Seconds rest on the written tempo, or on one assumed and said. How long a breath lasts
differs from player to player by half: the figures only say where to ask.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from auditor.craft.abilities import ability
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import seconds_name
from auditor.craft.page import Page
from auditor.craft.players import WINDS, Stream, streams
from auditor.craft.remark import Remark
from auditor.craft.tempo import weighed
from auditor.score.notes import Note

BREATH = (
    "N. Rimsky-Korsakov, Principles of Orchestration (1922), p. 20: wind players need rest to "
    "take breath; the seconds are common practice, no source"
)
TONGUE = (
    "N. Rimsky-Korsakov, Principles of Orchestration (1922), p. 19, and C. W. Fobes, Synthetic "
    "Speed Tonguing (2000); other speeds common practice, no source"
)
# A breath lasts this many times as long at pp and at ff as at mf (common practice, no source).
_SOFT_BREATH, _LOUD_BREATH = 1.3, 0.6
_MF, _PP, _FF = 3.0, 0.0, 5.0
# The lowest octave of flutes and low brass takes more air.
_LOW_BREATH = 0.8
_REPEATED = frozenset(("tremolo", "trill", "flutter"))


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on breath and tongue."""
    for stream in streams(page, *WINDS):
        yield from breath(page, stream, limits)
        yield from tonguing(page, stream, limits)


def breath(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """Stretches without a place to breathe that outlast one breath."""
    usual = ability(stream.instrument).breath_s
    if usual is None:
        return
    for phrase in _unbroken(page, _top_line(stream.notes), limits):
        if _shared(phrase):
            continue
        start, end = phrase[0].onset, _end(phrase)
        lasts = page.seconds_between(start, end)
        has = usual * limits.breath_share * _air(stream, phrase)
        if lasts <= has:
            continue
        # Of tongued notes a player leaves one out; from a slur there is no way out.
        long = lasts > limits.breath_risky * has and _bound(phrase) >= 0.5
        weight = weighed(page, start, "risky" if long else "worth a thought")
        yield Remark(
            "no-breath", weight, stream.part, phrase[0].bar, page.bar_at(end - 1e-3).index,
            tuple(n.id for n in phrase),
            f"{stream.name} has {seconds_name(lasts)} without a place to breathe"
            f"{page.said_tempo(start)}; one breath here lasts about {seconds_name(has)}.",
            "The player will breathe somewhere: better where the music wants it. How long a "
            "breath lasts is the player's to say.",
            "Break the slur or shorten a note where the phrase allows it, or let two players "
            "take turns.",
            BREATH,
        )  # fmt: skip


def _top_line(notes: Sequence[Note]) -> list[Note]:
    """Of notes that begin together the longest, grace notes left out."""
    kept: list[Note] = []
    for note in sorted((n for n in notes if not n.grace), key=lambda n: n.onset):
        if kept and note.onset < kept[-1].onset + 0.01:
            kept[-1] = max(kept[-1], note, key=lambda n: n.duration)
        else:
            kept.append(note)
    return kept


def _unbroken(
    page: Page, notes: Sequence[Note], limits: CraftLimits
) -> Iterator[tuple[Note, ...]]:
    """Notes between places to breathe: a rest, or a note not slurred on that is long enough."""
    row: list[Note] = []
    for note in notes:
        if row and _can_breathe(page, row[-1], note, limits):
            yield tuple(row)
            row = []
        row.append(note)
    if row:
        yield tuple(row)


def _can_breathe(page: Page, before: Note, after: Note, limits: CraftLimits) -> bool:
    end = before.onset + before.duration
    if page.seconds_between(end, after.onset) >= limits.breath_gap_s:
        return True
    # "slurred" stands on the notes a slur leads to.
    held = page.seconds_between(before.onset, end)
    return "slurred" not in after.techniques and held >= limits.breath_note_s


def _bound(notes: Sequence[Note]) -> float:
    """Share of a stretch that is slurred or held."""
    total = sum(n.duration for n in notes)
    held = max(n.duration for n in notes)
    return max(held, sum(n.duration for n in notes if "slurred" in n.techniques)) / total


def _end(notes: Sequence[Note]) -> float:
    return max(n.onset + n.duration for n in notes)


def _shared(notes: Sequence[Note]) -> bool:
    """Whether two players have the line throughout and can take turns."""
    return min(max(n.players, len(n.chairs)) for n in notes) >= 2


def _air(stream: Stream, notes: Sequence[Note]) -> float:
    """How many times the usual breath lasts at the dynamic and register of a stretch."""
    total = sum(n.duration for n in notes)
    level = sum(n.dynamic * n.duration for n in notes) / total
    if level >= _MF:
        factor = 1.0 + (min(level, _FF) - _MF) / (_FF - _MF) * (_LOUD_BREATH - 1.0)
    else:
        factor = 1.0 + (_MF - max(level, _PP)) / (_MF - _PP) * (_SOFT_BREATH - 1.0)
    pitch = sum(n.pitch * n.duration for n in notes) / total
    return factor * (_LOW_BREATH if pitch < stream.instrument.low + 12 else 1.0)


def tonguing(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """Tongued notes faster than the single tongue, or than any."""
    can = ability(stream.instrument)
    if can.tongue_hz is None:
        return
    single = can.tongue_hz * limits.tongue_share
    double = can.multiple_hz * limits.tongue_share if can.multiple_hz else None
    for run in _tongued(page, _top_line(stream.notes), single, limits):
        rate = (len(run) - 1) / page.seconds_between(run[0].onset, run[-1].onset)
        yield _too_fast(page, stream, run, rate, (single, double), limits)


def _tongued(
    page: Page, notes: Sequence[Note], single: float, limits: CraftLimits
) -> Iterator[tuple[Note, ...]]:
    """Rows of tongued notes that follow each other faster than `single` a second."""
    row: list[Note] = []
    for note in notes:
        fits = row and _fast(page, row[-1], note, single)
        if row and not fits:
            if len(row) >= limits.tongue_notes:
                yield tuple(row)
            row = []
        row.append(note)
    if len(row) >= limits.tongue_notes:
        yield tuple(row)


def _fast(page: Page, before: Note, after: Note, single: float) -> bool:
    if "slurred" in after.techniques or _REPEATED & {*before.techniques, *after.techniques}:
        return False
    apart = page.seconds_between(before.onset, after.onset)
    return 0 < apart < 1.0 / single


def _too_fast(
    page: Page,
    stream: Stream,
    run: Sequence[Note],
    rate: float,
    tongue: tuple[float, float | None],
    limits: CraftLimits,
) -> Remark:
    single, double = tongue
    fastest = limits.tongue_risky * single if double is None else double
    beyond = rate > fastest
    says = f"{stream.name} tongues {len(run)} notes at {rate:.1f} a second"
    says += page.said_tempo(run[0].onset)
    if double is None:
        says += f"; the single tongue gives about {single:.1f}, and a double one is rare here."
    elif beyond:
        says += f"; even the double tongue gives about {double:.0f}."
    else:
        says += f"; the single tongue gives about {single:.1f}, so it will be double-tongued."
    weight = weighed(page, run[0].onset, "risky" if beyond else "worth a thought")
    return Remark(
        "fast-tonguing", weight, stream.part, run[0].bar,
        run[-1].bar, tuple(n.id for n in run), says,
        "A tongue that cannot keep up drags the tempo or turns the notes into a blur; speeds "
        "differ from player to player.",
        "Slur in pairs (slur two, tongue two), share the notes between two players, or ask "
        "the player.",
        TONGUE,
    )  # fmt: skip
