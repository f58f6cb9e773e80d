"""The reading sheet on paper: two pages at most, on A4 and on Letter, nothing over the edge."""

import re

import pytest

from auditor.report.printed import for_paper, printed
from auditor.report.sheet import MOST_ROWS, compose_sheet

pytestmark = pytest.mark.browser

# ISO 216 and ANSI/ASME Y14.1, millimetres; CSS Values and Units Level 3: an inch is 96 px.
WIDTH_MM = {"a4": 210.0, "letter": 215.9}
SIDES_MM, PX = 28.0, 96 / 25.4
NAMES = (
    "Piccolo", "Flute 1", "Flute 2", "Oboe 1", "Oboe 2", "English Horn", "Clarinet in B♭ 1",
    "Clarinet in B♭ 2", "Bassoon 1", "Bassoon 2", "Contrabassoon", "Horn in F 1",
    "Horn in F 2", "Horn in F 3", "Horn in F 4", "Trumpet in C 1", "Trumpet in C 2",
    "Trombone 1", "Trombone 2", "Bass Trombone", "Tuba", "Timpani", "Glockenspiel", "Harp",
    "Violin I", "Violin II", "Viola", "Violoncello", "Double Bass",
)  # fmt: skip


def finding(k: int) -> dict[str, object]:
    words = (
        "mark Clarinet in B♭ 1, Horn in F 3 and Violoncello mf instead of f, and mark Tuba p"
    )
    tried = [{"words": words, "kind": kind} for kind in ("softer", "both", "octave", "rest")]
    return {
        "id": f"f{k}", "kind": "covered", "weight": 0.9 - k / 50,
        "lines": [k + 1, k + 2, k + 3],
        "first_bar": 6 * k, "last_bar": 6 * k + 5, "start_s": 12.0 * k, "end_s": 12.0 * k + 11,
        "covers": [{"line": 25, "share": 0.5}, {"line": 26, "share": 0.3}],
        "why": "it leads in the bars around; it lies on top; it is the highest line that moves",
        "cause": "", "remedies": [words], "tried": tried, "confidence": 0.5,
        "sentence": f"Bars {6 * k}–{6 * k + 5}: lost.",
    }  # fmt: skip


@pytest.fixture(scope="module")
def sheet():
    parts = [
        {"name": n, "players": 1.0, "instrument": {"family": "brass", "key": n, "name": n}}
        for n in NAMES
    ]
    bars = [{"number": str(k + 1), "pass_number": 1} for k in range(200)]
    return compose_sheet({
        "settings": {"source": "mix"}, "sound": {"name": "mix.wav", "duration_s": 400.0},
        "score": {
            "title": "A Long Title for a Piece with Everything in It", "parts": parts,
            "line_names": list(NAMES), "played_bars": bars,
            "rehearsal": [{"bar": 20 * k, "text": chr(65 + k)} for k in range(10)],
        },
        "findings": [finding(k) for k in range(20)],
        "cautions": ["A mock-up is not a room. Only players in a room decide."],
    })  # fmt: skip


@pytest.mark.parametrize("paper", sorted(WIDTH_MM))
def test_two_pages_hold_the_fullest_sheet(sheet, paper):
    assert sheet.count("<tbody") == MOST_ROWS
    pdf = printed(sheet, paper)
    # ISO 32000-1, 7.7.3.3: each page object has /Type /Page.
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2


@pytest.mark.parametrize("paper", sorted(WIDTH_MM))
def test_nothing_runs_over_the_edge(browser, sheet, paper, tmp_path):
    path = tmp_path / "sheet.html"
    path.write_text(for_paper(sheet, paper), encoding="utf-8")
    wide = round((WIDTH_MM[paper] - SIDES_MM) * PX)
    context = browser.new_context(offline=True, viewport={"width": wide, "height": 900})
    page = context.new_page()
    page.emulate_media(media="print")
    page.goto(path.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= wide + 1
    context.close()
