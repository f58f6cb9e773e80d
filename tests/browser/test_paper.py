"""The report on paper: A4 and Letter, nothing cut, nothing hidden that was told."""

import pytest

from auditor.cli import main
from auditor.errors import InputError
from auditor.report import printed as printing
from auditor.report.printed import check_paper, find_browser, for_paper, printed

pytestmark = pytest.mark.browser

# ISO 216: A4 is 210 mm x 297 mm. ANSI/ASME Y14.1: A (Letter) is 8.5 in x 11 in.
MILLIMETRES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# CSS Values and Units Level 3, section 5.2: an inch is 96 px.
PX = 96 / 25.4
# Margins of the print style sheet: 16 mm above, 15 mm at the sides, 18 mm below.
ACROSS, DOWN = 30.0, 34.0


@pytest.fixture(params=sorted(MILLIMETRES))
def paper(request):
    return request.param


@pytest.fixture
def sheet(browser, report, paper, tmp_path):
    """Open page as it is laid out on paper."""
    path = tmp_path / "page.html"
    path.write_text(for_paper(report.read_text(encoding="utf-8"), paper), encoding="utf-8")
    width = round((MILLIMETRES[paper][0] - ACROSS) * PX)
    context = browser.new_context(offline=True, viewport={"width": width, "height": 900})
    page = context.new_page()
    page.emulate_media(media="print")
    page.goto(path.as_uri())
    yield page
    context.close()


def test_every_excerpt_fits_the_paper_and_is_not_broken(sheet, paper):
    wide, high = (MILLIMETRES[paper][0] - ACROSS) * PX, (MILLIMETRES[paper][1] - DOWN) * PX
    boxes = sheet.evaluate(
        """[...document.querySelectorAll('svg.excerpt')].map(svg => {
            const box = svg.getBoundingClientRect();
            return [box.left, box.right, box.height,
                    getComputedStyle(svg.closest('figure')).breakInside];
        })"""
    )
    assert boxes
    for left, right, height, breaking in boxes:
        assert left >= -0.5
        assert right <= wide + 1
        assert height < high
        assert breaking == "avoid"


def test_the_picture_fits_the_paper_and_keeps_its_rows_whole(sheet, paper):
    wide = (MILLIMETRES[paper][0] - ACROSS) * PX
    assert sheet.evaluate("document.documentElement.scrollWidth") <= wide + 1
    for grid in sheet.locator(".grid").all():
        assert grid.is_visible()
        assert grid.bounding_box()["width"] <= wide + 1
    rows = (
        "[...document.querySelectorAll('.grid tr')].map(r => getComputedStyle(r).breakInside)"
    )
    assert set(sheet.evaluate(rows)) == {"avoid"}


def test_what_only_a_screen_can_do_is_left_out(sheet):
    for name in (".hear", ".sift", ".sizes", "nav", ".reading"):
        assert not any(e.is_visible() for e in sheet.locator(name).all()), name
    assert sheet.locator(".sentence").first.is_visible()
    assert sheet.locator("#bar-0").is_visible()


def test_paper_is_white_in_the_dark_too(sheet):
    sheet.emulate_media(media="print", color_scheme="dark")
    assert sheet.evaluate("getComputedStyle(document.body).backgroundColor") == (
        "rgb(255, 255, 255)"
    )
    assert sheet.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"


def test_the_pdf_is_of_that_size(report, paper):
    pdf = printed(report.read_text(encoding="utf-8"), paper)
    assert pdf.startswith(b"%PDF-")
    # ISO 32000-1, 14.11.2: /MediaBox in points, 72 to the inch.
    box = pdf.split(b"/MediaBox")[1].split(b"[")[1].split(b"]")[0].split()
    points = [mm / 25.4 * 72 for mm in MILLIMETRES[paper]]
    assert [float(v) for v in box[2:]] == pytest.approx(points, abs=1.0)


def test_without_a_browser_one_sentence_says_so(monkeypatch):
    monkeypatch.setattr(printing.shutil, "which", lambda name: None)
    with pytest.raises(InputError, match=r"no Chromium was found .* report\.html"):
        find_browser()


def test_a_paper_nobody_makes_is_refused():
    assert check_paper("A4") == "a4"
    with pytest.raises(InputError, match="a4 or letter"):
        check_paper("quarto")


def test_the_command_refuses_an_unknown_paper_before_it_reads_anything(capsys):
    with pytest.raises(SystemExit) as left:
        main(["audit", "no-such-score.musicxml", "no-such-mix.wav", "--pdf", "quarto"])
    assert left.value.code == 2
    assert "paper quarto is not known" in capsys.readouterr().err
