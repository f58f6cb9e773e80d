"""The report in a browser: opened from disk, offline, with the keyboard alone."""

import re

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


def cell(view, line, bar):
    return view.locator(".grid tbody tr", has_text=line).locator("a.cell").nth(bar)


def test_it_asks_for_nothing_but_itself(view, report):
    view.locator("#finding-1 .go").click()
    view.wait_for_function("() => document.querySelector('#finding-1 audio').currentTime > 0.1")
    assert [u for u in view.asked if not u.startswith("data:")] == [report.as_uri()]


def test_marked_noteheads_are_drawn_in_the_colour_of_the_line(view):
    heads = view.locator("#finding-1 .the-line .notehead use")
    assert heads.count() > 4
    # Okabe and Ito's blue, #0072B2.
    assert heads.first.evaluate("e => getComputedStyle(e).fill") == "rgb(0, 114, 178)"
    box = heads.first.bounding_box()
    assert box["width"] > 3
    assert box["height"] > 3


def test_a_name_from_a_file_is_shown_as_text(view):
    names = view.locator(".grid tbody th[scope=row]").all_text_contents()
    assert "Trumpet <b>in C</b>" in names
    assert view.locator(".grid th b").count() == 0


def test_arrow_keys_walk_the_picture_and_enter_chooses(view):
    assert view.locator(".grid a.cell[tabindex='0']").count() == view.locator(".grid").count()
    words = view.locator(".reading .words")
    cell(view, "Oboe", 4).focus()
    assert words.text_content().startswith("Oboe, bar 5: ")
    view.keyboard.press("ArrowRight")
    assert words.text_content().startswith("Oboe, bar 6: ")
    view.keyboard.press("ArrowDown")
    assert words.text_content().startswith("Clarinet in B♭, bar 6: ")
    view.keyboard.press("ArrowUp")
    view.keyboard.press("Enter")
    assert view.locator(":focus").text_content() == "Hear bar 6"
    view.keyboard.press("Tab")
    view.keyboard.press("Enter")
    view.wait_for_function("() => document.activeElement.id === 'finding-1'")


def test_a_chosen_cell_is_heard_from_its_bar(view):
    cell(view, "Oboe", 5).click()
    view.locator(".reading .listen").click()
    view.wait_for_function("() => !document.querySelector('#finding-1 audio').paused")
    # Bars of the invented piece last 2.4 s; the passage begins with bar 5.
    at = view.evaluate("document.querySelector('#finding-1 audio').currentTime")
    assert 2.3 <= at < 3.5
    view.keyboard.press("Escape")
    view.wait_for_function("() => document.querySelector('#finding-1 audio').paused")
    assert view.locator(".reading").is_hidden()


def test_the_picture_has_three_sizes_and_the_largest_shows_margins(view):
    one = cell(view, "Oboe", 5)
    before = one.bounding_box()["height"]
    view.get_by_label("small").check()
    assert one.bounding_box()["height"] < before
    view.get_by_label("large, with the margin in dB").check()
    assert one.bounding_box()["height"] > before
    shown = one.evaluate("e => getComputedStyle(e, '::after').content")
    assert re.fullmatch(r'"[+−]\d+"', shown)


def test_a_bar_in_a_closed_table_is_opened(view):
    cell(view, "Violin II", 0).press("Enter")
    view.locator(".reading .to").press("Enter")
    view.wait_for_function("() => document.activeElement.id === 'bar-0'")
    assert view.locator("#bar-0").is_visible()


def test_findings_are_sifted_and_put_in_the_order_of_the_music(view):
    shown = view.locator("article.finding:visible")
    whole = shown.count()
    sift = view.locator(".sift")
    sift.get_by_label("Kind").select_option("faint")
    assert shown.count() == 1
    assert sift.locator("output").text_content() == f"1 of {whole} findings"
    sift.get_by_label("Kind").select_option("")
    sift.get_by_label("Family").select_option("strings")
    assert {a.get_attribute("data-families") for a in shown.all()} == {"strings"}
    sift.get_by_label("Family").select_option("")
    sift.get_by_label("Order").select_option("place")
    first = view.locator(".list").first.locator("article")
    places = [int(a.get_attribute("data-place")) for a in first.all()]
    assert places == sorted(places)
    sift.get_by_label("Weight", exact=False).and_(sift.locator("[name=weight]")).select_option(
        "0.6"
    )
    assert all(float(a.get_attribute("data-weight")) >= 0.6 for a in shown.all())


@pytest.mark.parametrize("name", ["Findings", "Score and sound", "How it hears"])
def test_a_link_of_the_contents_arrives_where_it_says(view, name):
    view.get_by_role("navigation").get_by_text(name).click()
    view.wait_for_timeout(300)
    top = view.get_by_role("heading", name=name, exact=True).bounding_box()["y"]
    # A line of padding above, or the end of the page.
    at_end = view.evaluate("innerHeight + scrollY >= document.documentElement.scrollHeight - 2")
    assert 0 <= top < 24 or (at_end and top < 900)


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
    assert page.locator("#finding-1 audio").first.is_visible()
    context.close()
