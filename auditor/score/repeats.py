"""The order in which the page asks its bars to be played.

Signs are collected over all parts, since a repeat may stand in the top part only.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from auditor.score.sheet import Mark, Sheet

# No piece plays a bar more often; a file that asks for it is broken.
_MOST_PASSES = 64
# "D.C." is often printed up to this many bars before the double bar it belongs to.
_EARLY_BARS = 2


@dataclass(slots=True)
class Signs:
    """What stands at one bar, over all parts."""

    start: bool = False
    times: int = 0
    endings: tuple[int, ...] = ()
    ending_stop: tuple[int, ...] = ()
    jumps: set[str] = field(default_factory=set)
    final: bool = False


@dataclass(frozen=True, slots=True)
class Route:
    """The page's bars in playing order.

    Parameters
    ----------
    bars
        0-based bars of the page.
    passes
        1 the first time a bar is played, 2 the second.
    remarks
        What was odd.
    """

    bars: tuple[int, ...]
    passes: tuple[int, ...]
    remarks: tuple[str, ...] = ()


_CAPO = r"(\bd\. ?c\b\.?|\bda capo\b|^dc\b)"
_SEGNO = r"(\bd\. ?s\b\.?|\bdal segno\b|^ds\b)"
_JUMP_WORDS = (
    (re.compile(_CAPO + r".*\bcoda\b", re.I), ("dacapo", "alcoda")),
    (re.compile(_CAPO + r".*\bfine\b", re.I), ("dacapo", "alfine")),
    (re.compile(_CAPO, re.I), ("dacapo",)),
    (re.compile(_SEGNO + r".*\bcoda\b", re.I), ("dalsegno", "alcoda")),
    (re.compile(_SEGNO + r".*\bfine\b", re.I), ("dalsegno", "alfine")),
    (re.compile(_SEGNO, re.I), ("dalsegno",)),
    (re.compile(r"^\W*(to coda|al coda|alla coda)\b", re.I), ("tocoda",)),
    (re.compile(r"^\W*fine\W*$", re.I), ("fine",)),
    (re.compile(r"^\W*trio\b", re.I), ("trio",)),
)


def signs(sheets: Sequence[Sheet], count: int) -> tuple[Signs, ...]:
    """Union of all parts' barlines and jumps, one entry a bar."""
    found = tuple(Signs() for _ in range(count))
    targets: set[tuple[int, bool, str]] = set()
    for sheet in sheets:
        for index, bar in enumerate(sheet.bars):
            here = found[index]
            here.start |= bar.repeat_start
            here.times = max(here.times, bar.repeat_times)
            here.endings = here.endings or bar.endings
            here.ending_stop = here.ending_stop or bar.ending_stop
            here.final |= bar.final
        for mark in sheet.marks:
            if mark.kind == "jump" and mark.text in ("segno", "coda"):
                targets.add((mark.bar, _at_end(sheet, mark), mark.text))
            elif mark.kind == "jump":
                found[mark.bar].jumps.add(mark.text)
            elif mark.kind == "words":
                found[mark.bar].jumps.update(_jump_words(mark.text))
    _fill_brackets(found)
    _place_targets(found, sorted(targets))
    _settle_jumps(found)
    return found


def _settle_jumps(found: tuple[Signs, ...]) -> None:
    """Move a da capo printed early to its double bar, and end a minuet before its trio.

    Both are how such movements are read (common practice, no source).
    """
    for bar, here in enumerate(found):
        back = here.jumps & {"dacapo", "dalsegno"}
        if not back or here.times:
            continue
        goal = _double_bar(found, bar)
        if goal is not None:
            moved = back | (here.jumps & {"alfine", "alcoda"})
            here.jumps -= moved
            found[goal].jumps |= moved
    trio = next((bar for bar, here in enumerate(found) if "trio" in here.jumps), 0)
    ends = any(here.jumps & {"fine", "tocoda"} for here in found)
    if trio and not ends and any("dacapo" in here.jumps for here in found[trio:]):
        found[trio - 1].jumps.add("fine")


def _double_bar(found: tuple[Signs, ...], bar: int) -> int | None:
    """Find the double bar a little after `bar`, unless something new begins before it."""
    last = len(found) - 1
    for near in range(bar + 1, min(bar + _EARLY_BARS, last) + 1):
        if found[near].start or "coda" in found[near].jumps:
            return None
        if found[near].times or near == last:
            return near
    return None


def _at_end(sheet: Sheet, mark: Mark) -> bool:
    length = sheet.bars[mark.bar].length
    return length > 0 and mark.at > length - 1e-3


def _place_targets(found: tuple[Signs, ...], targets: list[tuple[int, bool, str]]) -> None:
    """Tell the coda sign that leads away from the one that leads in, and place both.

    A target drawn at the end of a bar is the beginning of the next.
    """
    leaving = {bar for bar, here in enumerate(found) if "tocoda" in here.jumps}
    codas = sorted({bar for bar, _, text in targets if text == "coda"})
    if len(codas) > 1 and not leaving:
        leaving = {codas[0]}
        found[codas[0]].jumps.add("tocoda")
    for bar, at_end, text in targets:
        if text == "coda" and bar in leaving:
            continue
        landing = min(bar + 1, len(found) - 1) if at_end else bar
        found[landing].jumps.add(text)


def _jump_words(text: str) -> tuple[str, ...]:
    for pattern, jumps in _JUMP_WORDS:
        if pattern.search(text.strip()):
            return jumps
    return ()


def _fill_brackets(found: tuple[Signs, ...]) -> None:
    """Carry a bracket's numbers over every bar it spans."""
    running: tuple[int, ...] = ()
    for here in found:
        # A bracket someone forgot to close ends where the next repeat begins.
        running = here.endings or (() if here.start else running)
        # One that is only closed covers this bar alone.
        here.endings = running or here.ending_stop
        if here.ending_stop or (here.times and running):
            running = ()
    for here, after, beyond in zip(found, found[1:], found[2:], strict=False):
        # A first bracket closed a bar before its repeat sign reaches to the second bracket.
        if here.endings and not here.times and after.times and not after.endings:
            after.endings = here.endings if beyond.endings else ()


def route(found: Sequence[Signs]) -> Route:
    """Playing order: repeats, brackets, then da capo, dal segno, coda and fine.

    After a jump, repeats are not taken again and the last bracket is played, as is
    usual (common practice, no source).
    """
    walker = _Walker(found)
    bars = walker.walk()
    missed = sorted(set(range(len(found))) - set(bars))
    if missed:
        # Whatever the order, each bar is played at least once.
        bars = list(range(len(found)))
        walker.remarks = [
            f"The repeats are badly formed (bar {missed[0] + 1} of the page would never be "
            f"played); the page was read straight through."
        ]
    counts: dict[int, int] = {}
    passes = []
    for bar in bars:
        counts[bar] = counts.get(bar, 0) + 1
        passes.append(counts[bar])
    return Route(tuple(bars), tuple(passes), tuple(walker.remarks))


class _Walker:
    """A pen that goes through the page and remembers which signs it has obeyed."""

    def __init__(self, found: Sequence[Signs]) -> None:
        self.signs = found
        self.start = 0
        self.turn = 1
        self.jumped = False
        self.until = ""
        self.resumes = 0
        self.remarks: list[str] = []

    def walk(self) -> list[int]:
        order: list[int] = []
        here: int | None = 0
        while here is not None and here < len(self.signs):
            if len(order) > _MOST_PASSES * len(self.signs):
                self.remarks.append("The repeat signs never come to an end; none was taken.")
                return list(range(len(self.signs)))
            if self.signs[here].start and here != self.start:
                self.start, self.turn = here, 1
            if not self._plays(here):
                here = here + 1
                continue
            order.append(here)
            here = self._after(here)
        return order

    def _plays(self, here: int) -> bool:
        endings = self.signs[here].endings
        if not endings:
            return True
        if self.jumped:
            return self._is_last_ending(here)
        group = self._group(here)
        if self._is_alone(here) and self.turn > max(group):
            return False
        # A pass for which nobody drew a bracket plays what there is.
        return self.turn in endings or self.turn not in group

    def _is_alone(self, here: int) -> bool:
        """Tell whether a bracket has a repeat sign and no other bracket follows it."""
        group = set(self._group(here))
        return group == set(self.signs[here].endings) and self._repeats(here)

    def _repeats(self, here: int) -> bool:
        while here + 1 < len(self.signs) and self.signs[here + 1].endings:
            here += 1
        return self.signs[here].times > 0

    def _group(self, here: int) -> tuple[int, ...]:
        """All passes named by the brackets that stand side by side around a bar."""
        first = last = here
        while first > 0 and self.signs[first - 1].endings:
            first -= 1
        while last + 1 < len(self.signs) and self.signs[last + 1].endings:
            last += 1
        return tuple(n for i in range(first, last + 1) for n in self.signs[i].endings)

    def _is_last_ending(self, here: int) -> bool:
        return max(self._group(here)) in self.signs[here].endings

    def _after(self, here: int) -> int | None:
        sign = self.signs[here]
        if self.jumped:
            over = "fine" in sign.jumps and self.until != "coda"
            if over or here + 1 == self.resumes:
                return self._resume()
            if "tocoda" in sign.jumps and self.until != "fine":
                return self._coda(here)
        elif self._goes_back(here):
            self.turn += 1
            return self.start
        elif sign.jumps & {"dacapo", "dalsegno"}:
            return self._jump(here)
        done = sign.times and not self.jumped
        if done or (self.turn > 1 and sign.endings and self._leaves_brackets(here)):
            self.start, self.turn = here + 1, 1
        return here + 1

    def _leaves_brackets(self, here: int) -> bool:
        return here + 1 >= len(self.signs) or not self.signs[here + 1].endings

    def _goes_back(self, here: int) -> bool:
        sign = self.signs[here]
        if not sign.times:
            return False
        if sign.endings:
            # A bracket with a repeat sign goes back as long as some bracket still waits.
            return self.turn < max(self._group(here)) + self._is_alone(here)
        return self.turn < sign.times

    def _jump(self, here: int) -> int:
        sign = self.signs[here]
        self.jumped = True
        begins = self._movement(here)
        self.resumes = here + 1
        self.until = (
            "coda" if "alcoda" in sign.jumps else "fine" if "alfine" in sign.jumps else ""
        )
        if "dalsegno" in sign.jumps:
            for bar in range(here, -1, -1):
                if "segno" in self.signs[bar].jumps:
                    return bar
            self.remarks.append("A dal segno has no segno; it was read as da capo.")
        return begins

    def _movement(self, here: int) -> int:
        """Bar where the movement of a da capo begins, in files of several movements."""
        for bar in range(here - 1, self.resumes, -1):
            ends = self.signs[bar].final and "fine" not in self.signs[bar].jumps
            if ends and any(s.jumps & {"fine", "tocoda"} for s in self.signs[bar + 1 : here]):
                return bar + 1
        return self.resumes

    def _resume(self) -> int:
        """Go on behind the da capo, where a coda or the next movement may stand."""
        self.jumped, self.until = False, ""
        self.start, self.turn = self.resumes, 1
        return self.resumes

    def _coda(self, here: int) -> int:
        for bar in range(here + 1, len(self.signs)):
            if "coda" in self.signs[bar].jumps:
                return bar
        self.remarks.append("A sign leads to a coda that is not there; it was passed over.")
        return here + 1
