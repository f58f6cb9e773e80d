"""For everyone: axe-core finds nothing to object to, whatever the screen or the scheme."""

from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

AXE = Path(__file__).with_name("axe") / "axe.min.js"
# Rules by the tags of axe-core: WCAG 2.0 to 2.2, levels A and AA, and its best practices.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def violations(page):
    # The page's own policy lets in no other script, so the test has to be let in past it.
    page.add_script_tag(path=AXE)
    found = page.evaluate(
        "tags => axe.run(document, {runOnly: tags}).then(r => r.violations)", TAGS
    )
    return [
        f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:120]} {v['nodes'][0]['any'][:1]}"
        for v in found
    ]


@pytest.fixture(params=["light", "dark"])
def page(request, browser, report):
    context = browser.new_context(
        offline=True, bypass_csp=True, color_scheme=request.param, reduced_motion="reduce"
    )
    page = context.new_page()
    page.goto(report.as_uri())
    yield page
    context.close()


@pytest.mark.parametrize("width", [390, 1200])
def test_nothing_to_object_to(page, width):
    page.set_viewport_size({"width": width, "height": 900})
    assert violations(page) == []


def test_nothing_to_object_to_with_a_cell_chosen_and_everything_open(page):
    page.locator(".grid a.cell").first.click()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert violations(page) == []


def test_the_check_can_fail(page):
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<button></button>')")
    assert any(found.startswith("button-name") for found in violations(page))


def test_everything_can_be_reached_and_named_by_keyboard(page):
    names = []
    for _ in range(40):
        page.keyboard.press("Tab")
        names.append(
            page.evaluate(
                """() => {
                    const e = document.activeElement;
                    const label = e.labels && e.labels[0];
                    const name = e.getAttribute('aria-label') || (label || e).textContent;
                    return (name || '').trim();
                }"""
            )
        )
    assert all(names)
    assert {"Play", "Place in the passage"} <= set(names)


def test_nothing_moves_by_itself(page):
    page.locator(".grid a.cell").first.click()
    page.locator("a.mark").first.click()
    assert page.evaluate("document.getAnimations().length") == 0
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
