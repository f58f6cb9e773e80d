"""A remark is made once for a place on the page."""

from auditor.findings.finding import Finding
from auditor.judging.passes import said_once
from auditor.score.notes import Bar


def finding(
    first: int, last: int, weight: float, line: int = 1, kind: str = "covered"
) -> Finding:
    return Finding(
        id=f"f{first}-{last}-{line}-{kind}", kind=kind, weight=weight, lines=(line,),
        parts=(line,), strand="", first_bar=first, last_bar=last, start_s=0.0, end_s=1.0,
        state="covered", distinct_ratio=0.0, margin_db=0.0, covers=(),
        register_share=(0.0,) * 5, reliance=1.0, why="", cause="", remedies=(),
        confidence=1.0, sentence="",
    )  # fmt: skip


# Four bars, played twice.
BARS = tuple(
    Bar(index=k, number=str(k % 4 + 1), written_index=k % 4, pass_number=k // 4 + 1,
        onset=4.0 * k, duration=4.0)
    for k in range(8)
)  # fmt: skip


def test_the_heavier_pass_speaks_for_both():
    assert said_once([finding(0, 1, 0.4), finding(4, 5, 0.5)], BARS) == [finding(4, 5, 0.5)]


def test_other_places_lines_and_kinds_are_kept():
    told = [
        finding(0, 1, 0.5),
        finding(6, 7, 0.4),
        finding(4, 5, 0.3, line=2),
        finding(4, 5, 0.2, kind="idle-doubling"),
    ]
    assert said_once(told, BARS) == told
