"""The page as a file: whole, closed to the network, and safe from what scores contain."""

import base64
import colorsys
import dataclasses
import hashlib
import re
from html.parser import HTMLParser
from importlib import resources

import numpy as np
import pytest

from auditor.craft.remark import Remark
from auditor.findings.finding import KINDS
from auditor.judging.live import Beside
from auditor.report.page import LISTENING, compose_page
from auditor.report.picture import SIGNS, systems
from auditor.report.views import KIND_WORDS, strand_views
from auditor.report.weight import bar_weights

HOSTILE = '<script>alert(1)</script><img src="http://evil.example/x" onerror=alert(2)>"\'&'
LOADS = ("src", "href", "srcset", "data", "poster", "action", "formaction", "background")


class Seen(HTMLParser):
    """Tags, attributes and text of a document."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.text.append(data)


@pytest.fixture(scope="module")
def seen(page):
    return Seen(page.html)


def test_every_kind_of_finding_has_words():
    assert set(KIND_WORDS) == set(KINDS)


def test_nothing_is_loaded_from_elsewhere(page, seen):
    loads = [value for _, name, value in seen.attributes if name in LOADS]
    assert loads
    assert all(value.startswith(("#", "data:audio/mpeg;base64,")) for value in loads)
    assert "http:" not in page.html
    assert "https:" not in page.html
    assert "@import" not in page.html
    assert "url(" not in page.html


def test_the_policy_allows_our_script_and_nothing_else(page, seen):
    # W3C Content Security Policy Level 3, section 2.3.1: 'sha256-' and the base64 digest
    # of what stands between the script tags.
    policy = next(v for t, n, v in seen.attributes if t == "meta" and "default-src" in v)
    script = re.search(r"<script>(.*?)</script>", page.html, re.S)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert "default-src 'none'" in policy
    assert f"script-src 'sha256-{digest}'" in policy
    assert "'unsafe-inline'" not in policy.split("script-src")[1].split(";")[0]


def test_hostile_names_stay_text(made):
    audit = made.made_audit(
        names={1: HOSTILE, 2: HOSTILE, 7: HOSTILE}, title=HOSTILE, remark=HOSTILE
    )
    finding = dataclasses.replace(
        audit.findings[0], sentence=HOSTILE, why=HOSTILE, cause=HOSTILE, remedies=(HOSTILE,),
        id=HOSTILE, caution=HOSTILE,
    )  # fmt: skip
    audit = dataclasses.replace(
        audit, findings=(finding,), hashes=((HOSTILE, "0"),), cautions=(HOSTILE,)
    )
    html = compose_page(audit, lambda f, b, p: made.made_excerpt(audit, f, b, p)).html
    page = Seen(html)
    assert page.tags.count("script") == 1
    assert "img" not in page.tags
    assert not [name for _, name, _ in page.attributes if name.startswith("on")]
    assert "".join(page.text).count(HOSTILE) >= 10


def test_every_link_arrives(seen):
    ids = [value for _, name, value in seen.attributes if name == "id"]
    targets = {v[1:] for _, n, v in seen.attributes if n == "href" and v.startswith("#")}
    assert len(ids) == len(set(ids))
    assert targets <= set(ids)


def test_what_one_label_points_at_is_there(seen):
    ids = {value for _, name, value in seen.attributes if name == "id"}
    labels = [value for _, name, value in seen.attributes if name == "aria-labelledby"]
    assert labels
    assert set(labels) <= ids


def test_it_says_who_and_where_and_keeps_the_cautions(audit, page, seen):
    text = " ".join("".join(seen.text).split())
    for finding in audit.findings:
        assert finding.sentence in text
        for remedy in finding.remedies:
            assert not remedy or remedy in text
    for caution in (*audit.cautions, LISTENING):
        assert caution in text
    assert "comfortable level" in text
    assert '<html lang="en">' in page.html


def test_remarks_on_craft_have_a_section_of_their_own(audit, page):
    remark = Remark(
        "high", "risky", 5, 9, 9, (), "The horn enters <high>.", "It may crack.", "Wait."
    )
    html = compose_page(dataclasses.replace(audit, craft=(remark,), findings=())).html
    section = html.split('id="craft"')[1].split("</section>")[0]
    assert "Horn in F" in section
    assert "bar 10" in section
    assert "The horn enters &lt;high&gt;." in section
    assert "The player&#39;s word overrules" in section
    assert "The player&#39;s word overrules" not in page.html


def light(bar, sentence, why="It may crack."):
    return Remark("high", "worth a thought", 5, bar, bar, (), sentence, why, "Wait.")


def test_light_remarks_of_one_reason_stand_together_and_many_of_them_folded(audit):
    few = (light(3, "One."), light(4, "Two.", "Reeds tire."), light(9, "Three."))
    html = compose_page(dataclasses.replace(audit, craft=few, findings=())).html
    section = html.split('id="craft"')[1].split("</section>")[0]
    assert section.count("It may crack.") == section.count("Reeds tire.") == 1
    first, second = section.split('class="remark thought"')[1:]
    assert "One." in first
    assert "Three." in first
    assert "Two." in second
    assert '<details class="figures" open>' in section
    many = tuple(light(k, f"Number {k}.") for k in range(13))
    html = compose_page(dataclasses.replace(audit, craft=many, findings=())).html
    section = html.split('id="craft"')[1].split("</section>")[0]
    assert "Worth a thought: 13 remarks" in section
    assert '<details class="figures" open>' not in section


def test_register_weight_as_written_has_a_picture_and_a_table(audit, page):
    section = page.html.split('id="craft"')[1].split("</section>")[0]
    picture, table = section.split("The same as a table")
    assert picture.count("<path") == 5
    assert table.count("<tr>") == 1 + len(audit.score.bars)


@pytest.mark.parametrize(("count", "said"), [(0, ""), (3, "; c"), (4, "; and 1 more")])
def test_a_tutti_does_not_list_every_doubling(audit, count, said):
    first, *others = audit.intent.strands
    names = tuple("abcdefgh"[:count])
    strands = (dataclasses.replace(first, doublings=names), *others)
    intent = dataclasses.replace(audit.intent, strands=strands)
    words = strand_views(dataclasses.replace(audit, intent=intent))[0].words
    assert words.endswith(said)
    assert words.count(";") == min(count, 3) + (count > 3)


def test_figures_of_the_heaviest_finding_are_shown_as_they_are(page):
    article = page.html.split('id="finding-1"')[1].split("</article>")[0]
    assert re.search(r"Trombone</th>.*?62 %", article, re.S)
    assert re.search(r"alto.*?55 %", article, re.S)
    assert "3.1 dB below" in article
    assert article.count("<audio") == 4
    assert article.count('class="excerpt"') == 1


def test_an_audit_without_findings_score_or_clips_still_has_a_page(audit):
    bare = dataclasses.replace(audit, findings=(), samples=np.zeros(0, np.float32))
    html = compose_page(bare).html
    assert "No line that the score relies on is covered" in html
    assert "<audio" not in html


def test_every_playing_bar_of_every_line_has_its_cell(audit):
    playing = {(n.line, n.bar) for n in audit.score.notes}
    shown = {
        (row.line, head.index): cell
        for system in systems(audit, bar_weights(audit))
        for row in system.rows
        for head, cell in zip(system.heads, row.cells, strict=True)
        if cell is not None
    }
    assert set(shown) == playing
    states = dict(zip(audit.score.notes, audit.heard.note_state, strict=True))
    for (line, bar), cell in shown.items():
        assert cell.state in {s for n, s in states.items() if (n.line, n.bar) == (line, bar)}
        assert cell.lead == (audit.intent.role[line - 1][bar] == "leading")


def test_signs_differ_without_colour():
    assert len(set(SIGNS.values())) == len(SIGNS)


def themes():
    css = (resources.files("auditor.report") / "static" / "report.css").read_text()
    light, dark = (
        dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
        for block in re.findall(r":root \{(.*?)\}", css, re.S)
    )
    return {"light": light, "dark": light | dark}


def luminance(colour):
    """Relative luminance, WCAG 2.2, glossary."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(one, other):
    a, b = sorted((luminance(one), luminance(other)), reverse=True)
    return (a + 0.05) / (b + 0.05)


def test_the_contrast_formula_is_that_of_wcag():
    # WCAG 2.2: black on white is 21:1; #767676 on white is the well-known 4.54:1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("front", "back"),
    [
        ("ink", "paper"), ("ink", "sheet"), ("soft", "paper"), ("soft", "sheet"),
        ("link", "paper"), ("ink", "pale"), ("ink", "mid"), ("deep-ink", "deep"),
    ],
)  # fmt: skip
def test_words_and_signs_can_be_read(theme, front, back):
    colours = themes()[theme]
    assert contrast(colours[front], colours[back]) >= 4.5  # WCAG 2.2, 1.4.3


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("front", "back"),
    [("line", "sheet"), ("line", "marker"), ("cover", "sheet"), ("line", "paper"),
     ("deep", "paper"), ("deep", "pale"), ("now", "marker"), ("now", "sheet"), ("ink", "now")],
)  # fmt: skip
def test_marks_stand_out_from_the_page(theme, front, back):
    colours = themes()[theme]
    assert contrast(colours[front], colours[back]) >= 3.0  # WCAG 2.2, 1.4.11


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_states_step_in_lightness(theme):
    colours = themes()[theme]
    steps = [luminance(colours[name]) for name in ("pale", "mid", "deep")]
    assert steps in (sorted(steps), sorted(steps, reverse=True))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_traffic_light_in_the_picture(theme):
    colours = themes()[theme]
    for name in ("pale", "mid", "deep"):
        channels = [int(colours[name][i : i + 2], 16) / 255 for i in (1, 3, 5)]
        hue, _, saturation = colorsys.rgb_to_hls(*channels)
        assert saturation < 0.12 or 0.5 < hue < 0.7  # greyish, or blue


def test_the_forecast_stands_beside_the_rendering(audit):
    lost = next(f for f in audit.findings if f.kind == "covered")
    other = dataclasses.replace(lost, id="x1", kind="flattered", sentence=HOSTILE)
    beside = Beside((other,), ((lost.id, "agrees", 0.83),))
    html = compose_page(dataclasses.replace(audit, beside=beside)).html
    assert "the forecast agrees (lost in about 8 of 10 forecasts)" in html
    assert "Where rendering and forecast part" in html
    assert HOSTILE not in html
