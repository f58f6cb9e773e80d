"""Scores that cannot be used: one sentence, exit code 3."""

import zipfile

import pytest

HTML = "<html><body>no music</body></html>"
BOMB = (  # the "billion laughs" of CVE-2003-1564, cut short
    '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    "<score-partwise><part-list>&b;</part-list></score-partwise>"
)
NO_NOTES = (
    '<score-partwise><part-list><score-part id="P1"><part-name>Flute</part-name></score-part>'
    '</part-list><part id="P1"><measure number="1"></measure></part></score-partwise>'
)


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "is empty"),
        (b"RIFF\x00\x01", "not readable XML"),
        (HTML.encode(), "XML of something else"),
        (NO_NOTES.encode(), "no notes"),
        (BOMB.encode(), "XML entities"),
        (b"<score-partwise>" * 3, "not readable XML"),
    ],
    ids=["empty", "not-xml", "something-else", "no-notes", "bomb", "cut"],
)
def test_scores_that_cannot_be_used(auditor, files, content, match, refused, place):
    score = place / "score.musicxml"
    score.write_bytes(content)
    refused(auditor("audit", score, files / "march.wav", "-o", "result"), 3, match)


def test_score_of_rests(auditor, files, place, refused, made):
    score = place / "score.musicxml"
    score.write_text(made.score_xml({"Flute": [0] * 8}))
    refused(auditor("audit", score, files / "march.wav"), 3, "only rests")


def test_missing_score(auditor, files, refused):
    left = auditor("audit", files / "none.musicxml", files / "march.wav", "-o", "result")
    refused(left, 3, "does not exist")


def test_mxl_that_is_no_zip(auditor, files, refused, made, place):
    score = place / "score.mxl"
    score.write_text(made.score_xml(made.MARCH))
    refused(auditor("audit", score, files / "march.wav"), 3, "not a zip archive")


def test_mxl_that_unpacks_to_gigabytes(auditor, files, refused, place):
    score = place / "score.mxl"
    block = bytes(1 << 20)
    with (
        zipfile.ZipFile(score, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("score.musicxml", "w", force_zip64=True) as member,
    ):
        for _ in range(2100):
            member.write(block)
    refused(auditor("audit", score, files / "march.wav"), 3, "unpacks to more than 256 MB")
