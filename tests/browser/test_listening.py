"""Listening in the page: takes that play, seek and change, and noteheads that follow."""

import pytest

pytestmark = pytest.mark.browser

SECONDS_A_QUARTER = 0.6  # of the invented piece


@pytest.fixture
def desk(browser, report):
    """Open page, its first finding in view."""
    context = browser.new_context(
        offline=True, viewport={"width": 1200, "height": 900}, reduced_motion="reduce"
    )
    page = context.new_page()
    page.goto(report.as_uri() + "#finding-1")
    yield page
    context.close()


def sounding(desk):
    return desk.evaluate(
        "[...document.querySelectorAll('#finding-1 audio')].map(a => !a.paused)"
    )


def heads(desk):
    """Noteheads of the line in order of time: identifier, start and end in seconds."""
    return desk.evaluate(
        "JSON.parse(document.querySelector('#finding-1 .hear').dataset.cues).line"
    )


def test_every_take_is_as_long_as_the_passage(desk):
    lengths = desk.evaluate(
        """Promise.all([...document.querySelectorAll('#finding-1 audio')].map(a =>
            new Promise((done, failed) => {
                a.onloadedmetadata = () => done(a.duration);
                a.onerror = failed;
                a.load();
            })))"""
    )
    assert len(lengths) == 4
    # Bars 5 to 8 of the invented piece: four bars of four quarters.
    # An MP3 frame is 1152 samples (ISO 11172-3); coder and decoder may add a few.
    assert lengths == pytest.approx([16 * SECONDS_A_QUARTER] * 4, abs=4 * 1152 / 44100)


def test_play_starts_and_stops_and_one_passage_sounds_at_a_time(desk):
    button = desk.locator("#finding-1 .go")
    button.click()
    desk.wait_for_function("() => document.querySelector('#finding-1 audio').currentTime > 0.1")
    assert button.text_content() == "Stop"
    desk.locator("#finding-2 .go").click()
    desk.wait_for_function("() => !document.querySelector('#finding-2 audio').paused")
    assert sounding(desk) == [False] * 4
    assert button.text_content() == "Play"


def test_changing_the_take_keeps_the_place(desk):
    first = heads(desk)[0][0]
    desk.locator(f"#{first} .notehead").click()
    desk.wait_for_function("() => document.querySelector('#finding-1 audio').currentTime > 0.3")
    desk.get_by_role("group", name="Listen, bars 5–8").get_by_role(
        "radio", name="line alone"
    ).check()
    desk.wait_for_function("() => !document.querySelectorAll('#finding-1 audio')[2].paused")
    assert sounding(desk) == [False, False, True, False]
    at = desk.evaluate("document.querySelectorAll('#finding-1 audio')[2].currentTime")
    assert 0.3 <= at < 2.0


def test_a_click_on_a_note_starts_there_and_its_head_is_marked(desk):
    name, start, end = heads(desk)[5]
    desk.locator(f"#{name} .notehead").click()
    desk.wait_for_function(f"() => document.getElementById('{name}').classList.contains('now')")
    at = desk.evaluate("document.querySelector('#finding-1 audio').currentTime")
    assert start - 0.05 <= at <= end


def test_noteheads_follow_the_sound(desk):
    names = [name for name, *_ in heads(desk)[:4]]
    # The page itself notes in which order heads are marked, however late we ask.
    desk.evaluate(
        """names => {
            window.marked = [];
            for (const name of names) {
                const head = document.getElementById(name);
                new MutationObserver(() => {
                    const now = head.classList.contains("now");
                    if (now && !window.marked.includes(name)) window.marked.push(name);
                }).observe(head, { attributeFilter: ["class"] });
            }
        }""",
        names,
    )
    desk.locator("#finding-1 .go").click()
    desk.wait_for_function("() => window.marked.length === 4")
    assert desk.evaluate("window.marked") == names


def test_arrow_keys_step_from_note_to_note(desk):
    place = desk.locator("#finding-1 .at")
    place.focus()
    for name, start, _ in heads(desk)[1:4]:
        desk.keyboard.press("ArrowRight")
        desk.wait_for_function(
            f"() => document.getElementById('{name}').classList.contains('now')"
        )
        at = desk.evaluate("document.querySelector('#finding-1 audio').currentTime")
        assert at == pytest.approx(start, abs=0.03)
    assert "bar 5" in place.get_attribute("aria-valuetext")


def test_the_clip_really_sounds(desk):
    """The take is decoded to something louder than nothing, at its place after a seek."""
    peak = desk.evaluate(
        """async () => {
            const uri = document.querySelector('#finding-1 audio').src;
            const bytes = Uint8Array.from(atob(uri.split(',')[1]), c => c.charCodeAt(0));
            const sound = await new OfflineAudioContext(1, 44100, 44100)
                .decodeAudioData(bytes.buffer);
            return Math.max(...sound.getChannelData(0).slice(44100, 88200).map(Math.abs));
        }"""
    )
    # The invented mix is a tone of 0.1 that swells by half.
    assert 0.04 < peak < 0.2
