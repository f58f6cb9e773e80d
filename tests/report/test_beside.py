"""What leaves an audit of the forecast beside it."""

from dataclasses import replace

from auditor.judging.foretold import foretell
from auditor.judging.live import Beside
from auditor.report.markdown import findings_markdown
from auditor.report.record import as_record
from auditor.report.sheet import compose_sheet


def with_forecast(audit):
    forecast = foretell(audit.score, audit.intent, audit.timeline, audit.limits)
    ask = next(f for f in audit.findings if f.kind in ("covered", "faint"))
    flattered = replace(
        ask, id="f0", kind="flattered", sentence="Bars 1–4: the mock-up flatters Oboe."
    )
    beside = Beside((flattered,), ((ask.id, "differs", 0.1),))
    return replace(audit, forecast=forecast, beside=beside), ask


def test_the_record_holds_lines_findings_and_agreement(audit):
    both, ask = with_forecast(audit)
    told = as_record(both)["forecast"]
    assert [row["line"] for row in told["lines"]] == [x.number for x in audit.score.lines]
    assert told["beside"][0]["kind"] == "flattered"
    assert told["agreement"] == [{"id": ask.id, "word": "differs", "chance_covered": 0.1}]
    assert as_record(audit)["forecast"] is None


def test_what_parts_is_told_in_words_and_on_the_sheet(audit):
    both, _ = with_forecast(audit)
    text = findings_markdown(both)
    assert "0 of 1 covered or faint passages" in text
    assert "the mock-up flatters Oboe" in text
    assert "level is taken as known to" in text
    html = compose_sheet(as_record(both))
    assert "rendering and forecast part" in html
    assert "clear in the rendering, probably covered in a hall" in html
