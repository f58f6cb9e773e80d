"""A first brief from the inference, for the composer to mend."""

from __future__ import annotations

import json

from auditor.intent.roles import Intent, Strand
from auditor.score.notes import Score

# A lead less certain than this is written as a comment, for the composer to decide.
SURE = 0.5
# A carrier is named if it plays in this share of the strand's bars.
CARRIES = 0.5

_HEAD = """\
# What must be heard in this piece, as far as the page tells. Mend it: what stands here
# overrules what the program would take to lead. Passages that start with # are unclear.
#
# lines: names or numbers of parts, groups, instruments ("Horns"), or woodwind, brass,
#        strings, percussion, voice
# bars:  as printed, "12-20" or "12-20, 30-34"
# role:  foreground, middleground, background or colour
"""


def _carriers(score: Score, strand: Strand) -> list[int]:
    bars: dict[int, set[int]] = {}
    for n in strand.notes:
        note = score.notes[n]
        bars.setdefault(note.line, set()).add(note.bar)
    most = max((len(b) for b in bars.values()), default=0)
    return [n for n in strand.lines if len(bars.get(n, ())) >= CARRIES * most]


def _named(score: Score, lines: list[int]) -> str:
    """The row of parts by name; by number, with the name behind it, where two share one."""
    parts = list(dict.fromkeys(x.part for x in score.lines if x.number in lines))
    name = {p.number: p.name for p in score.parts}
    twice = [p for p in parts if list(name.values()).count(name[p]) > 1]
    said = ", ".join(
        str(p) if p in twice else json.dumps(name[p], ensure_ascii=False) for p in parts
    )
    behind = ", ".join(f"{p} is a {' '.join(name[p].split())}" for p in twice)
    return f"lines = [{said}]" + (f"  # {behind}" if behind else "")


def _why(intent: Intent, lines: list[int], first: int, last: int) -> str:
    for (number, a, b), words in intent.reasons:
        if number in lines and a <= last and b >= first:
            return words
    return ""


def _passage(score: Score, intent: Intent, strand: Strand) -> str:
    lines = _carriers(score, strand)
    first, last = strand.first_bar, strand.last_bar
    ends = [score.bars[first].number, score.bars[last].number]
    bars = ends[0] if ends[0] == ends[1] else "-".join(ends)
    role = "foreground" if strand.role == "leading" else "middleground"
    why = _why(intent, lines, first, last)
    rows = [
        "[[passage]]",
        _named(score, lines),
        f"bars = {json.dumps(bars)}",
        f"role = {json.dumps(role)}",
        f"comment = {json.dumps(why, ensure_ascii=False)}",
    ]
    sure = float(intent.certainty[first : last + 1].mean()) >= SURE
    return "\n".join(rows if sure else [f"# {row}" for row in rows])


def draft(score: Score, intent: Intent) -> str:
    """Write the text of a brief: every leading strand, on its first playing.

    Parameters
    ----------
    score, intent
        The page, and what was inferred.
    """
    leading = [
        s
        for s in intent.strands
        if s.kind == "strand" and s.role == "leading"
        and score.bars[s.first_bar].pass_number == 1
        and score.bars[s.first_bar].written_index <= score.bars[s.last_bar].written_index
    ]  # fmt: skip
    told = [_passage(score, intent, strand) for strand in leading]
    return "\n\n".join([_HEAD.rstrip(), *told]) + "\n"
