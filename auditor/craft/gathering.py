"""The same remark on several parts in the same bars, told once with all their names."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from auditor.craft.remark import Remark
from auditor.findings.wording import listed

# Stand in a sentence for the players' names and for the verb that follows them.
WHO, HAS, IS = "{who}", "{has}", "{is}"


def gathered(remarks: Iterable[tuple[str, Remark]]) -> Iterator[Remark]:
    """Remarks alike but for the player told as one, `WHO` and its verb filled in.

    Parameters
    ----------
    remarks
        Pairs of a player's name and a remark whose sentence holds the signs above.
    """
    alike: dict[tuple[str, str, int, int, str], list[tuple[str, Remark]]] = defaultdict(list)
    for name, remark in remarks:
        key = (remark.kind, remark.weight, remark.first_bar, remark.last_bar, remark.sentence)
        alike[key].append((name, remark))
    for group in alike.values():
        yield _one(group)


def _one(group: list[tuple[str, Remark]]) -> Remark:
    names = list(dict.fromkeys(name for name, _ in group))
    parts = {remark.part for _, remark in group}
    first = group[0][1]
    many = len(names) > 1
    sentence = first.sentence.replace(WHO, listed(names)).replace(
        HAS, "have" if many else "has"
    )
    return replace(
        first,
        part=parts.pop() if len(parts) == 1 else 0,
        notes=tuple(dict.fromkeys(n for _, remark in group for n in remark.notes)),
        sentence=sentence.replace(IS, "are" if many else "is"),
    )
