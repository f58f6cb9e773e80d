"""The report in a browser: opened from disk, offline, with the keyboard alone."""

import pytest

pytestmark = pytest.mark.browser


@pytest.fixture
def view(browser, report):
    """Open page of the report, with everything it asked for and complained of."""
    context = browser.new_context(offline=True, viewport={"width": 1200, "height": 900})
    page = context.new_page()
    page.asked, page.faults = [], []
    page.on("request", lambda r: page.asked.append(r.url))
    page.on("console", lambda m: page.faults.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: page.faults.append(str(e)))
    page.goto(report.as_uri())
    yield page
    assert page.faults == []
    context.close()


def test_it_asks_for_nothing_but_itself(view, report):
    view.wait_for_function("[...document.querySelectorAll('audio')].every(a => a.readyState)")
    assert [u for u in view.asked if not u.startswith("data:")] == [report.as_uri()]


def test_every_clip_has_a_length(view):
    view.wait_for_function("[...document.querySelectorAll('audio')].every(a => a.readyState)")
    lengths = view.evaluate("[...document.querySelectorAll('audio')].map(a => a.duration)")
    assert len(lengths) == 4
    assert all(1 < seconds < 12.5 for seconds in lengths)


def test_marked_noteheads_are_drawn_in_the_colour_of_the_line(view):
    heads = view.locator("#finding-1 .the-line .notehead use")
    assert heads.count() > 4
    # Okabe and Ito's blue, #0072B2.
    assert heads.first.evaluate("e => getComputedStyle(e).fill") == "rgb(0, 114, 178)"
    box = heads.first.bounding_box()
    assert box["width"] > 3
    assert box["height"] > 3


def test_a_name_from_a_file_is_shown_as_text(view):
    names = view.locator(".grid th[scope=row]").all_text_contents()
    assert "Trumpet <b>in C</b>" in names
    assert view.locator(".grid th b").count() == 0


def test_arrow_keys_walk_the_picture_and_enter_opens_the_finding(view):
    assert view.locator(".grid a.cell[tabindex='0']").count() == view.locator(".grid").count()
    oboe = view.locator(".grid tbody tr", has_text="Oboe").locator("a.cell")
    oboe.nth(4).focus()
    assert view.locator(".reading").text_content().startswith("Oboe, bar 5: ")
    view.keyboard.press("ArrowRight")
    assert view.locator(".reading").text_content().startswith("Oboe, bar 6: ")
    view.keyboard.press("ArrowDown")
    assert view.locator(".reading").text_content().startswith("Clarinet in B♭, bar 6: ")
    view.keyboard.press("ArrowUp")
    view.keyboard.press("Enter")
    view.wait_for_function("document.activeElement.id === 'finding-1'")


def test_a_bar_in_a_closed_table_is_opened(view):
    violin = view.locator(".grid tbody tr", has_text="Violin II").locator("a.cell")
    violin.first.press("Enter")
    view.wait_for_function("document.activeElement.id === 'bar-0'")
    assert view.locator("#bar-0").is_visible()


def test_focus_can_be_seen(view):
    for _ in range(3):
        view.keyboard.press("Tab")
    style = "e => [getComputedStyle(e).outlineStyle, getComputedStyle(e).outlineWidth]"
    assert view.locator(":focus").evaluate(style) == ["solid", "3px"]


@pytest.mark.parametrize("width", [320, 390, 768, 1200, 1920])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_width_scrolls_sideways(browser, report, width, scheme):
    # WCAG 2.2, 1.4.10: content reflows down to 320 CSS pixels.
    context = browser.new_context(
        offline=True, viewport={"width": width, "height": 800}, color_scheme=scheme
    )
    page = context.new_page()
    page.goto(report.as_uri())
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    context.close()


def test_the_page_stands_without_script(browser, report):
    context = browser.new_context(offline=True, java_script_enabled=False)
    page = context.new_page()
    page.goto(report.as_uri())
    page.locator("a.mark").first.click()
    assert page.url.endswith("#finding-1")
    context.close()
