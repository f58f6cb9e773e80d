"""What cannot be used is refused in one sentence, and nothing hostile is unpacked."""

import io
import zipfile

import pytest

from auditor.errors import ScoreError
from auditor.score import opening
from auditor.score.reading import read_score

# MusicXML 4.0, "The .mxl file": META-INF/container.xml names the score in full-path.
CONTAINER = (
    '<?xml version="1.0"?><container><rootfiles>'
    '<rootfile full-path="inner/music.xml"/></rootfiles></container>'
)


def one_bar(xml):
    return xml.score(xml.part("Flute", xml.note("C5", 4)))


def zipped(members):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return buffer.getvalue()


def refused(path, match):
    with pytest.raises(ScoreError, match=match) as caught:
        read_score(path)
    assert caught.value.exit_code == 3
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)
    assert len(str(caught.value)) < len(str(path)) + 300


def test_missing_file(tmp_path):
    refused(tmp_path / "none.musicxml", "does not exist")


def test_folder(tmp_path):
    refused(tmp_path, "is a folder")


@pytest.mark.parametrize("content", ["", "  \n "])
def test_empty_file(xml, content):
    refused(xml.save(content), "is empty")


def test_not_xml(xml):
    refused(xml.save("MThd\x01 this is something else"), "not readable XML")


def test_cut_off_xml(xml):
    refused(xml.save(one_bar(xml)[:-40]), "not readable XML")


def test_xml_of_something_else(xml):
    refused(xml.save("<html><body/></html>"), "XML of something else .*<html>")


def test_no_part(xml):
    refused(xml.save("<score-partwise><part-list/></score-partwise>"), "no part with a bar")


def test_part_that_is_not_listed(xml):
    text = one_bar(xml).replace('score-part id="P1"', 'score-part id="P9"')
    refused(xml.save(text), "no part that is both listed and written out")


def test_no_notes(xml):
    refused(xml.save(xml.score(xml.part("Flute", "", ""))), "no notes")


def test_only_rests(xml):
    refused(xml.save(xml.score(xml.part("Flute", xml.note("R", 4)))), "only rests")


def test_bar_without_end(xml):
    refused(xml.save(xml.score(xml.part("Flute", xml.note("C5", 1e9)))), "bar 1 of Flute would")


def test_music_the_library_chokes_on(xml):
    text = one_bar(xml).replace("<octave>5</octave>", "<octave>x</octave>")
    refused(xml.save(text), "bar 1 of Flute has a note of step .C. and octave .x.")


def test_entity_bomb(xml):
    # The "billion laughs" of CVE-2003-1564, cut short.
    bomb = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    text = xml.score(xml.part("&b;", xml.note("C5", 4)), before=bomb)
    refused(xml.save(text), "XML entities")


def test_entity_bomb_in_sixteen_bits(xml):
    bomb = '<!DOCTYPE x [<!ENTITY a "ha">]>'
    text = xml.score(xml.part("&a;", xml.note("C5", 4)), before=bomb)
    refused(xml.save(text.replace("UTF-8", "UTF-16").encode("utf-16")), "XML entities")


def test_external_entity_is_not_fetched(xml, tmp_path):
    (tmp_path / "secret.txt").write_text("Tuba")
    outside = f'<!DOCTYPE x [<!ENTITY a SYSTEM "{tmp_path / "secret.txt"}">]>'
    text = xml.score(xml.part("&a;", xml.note("C5", 4)), before=outside)
    refused(xml.save(text), "XML entities")


def test_usual_doctype_is_fine(xml):
    doctype = (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">'
    )
    text = xml.score(xml.part("Flute", xml.note("C5", 4)), before=doctype)
    assert len(read_score(xml.save(text)).notes) == 1


def test_mxl_follows_its_container(xml):
    decoy = xml.score(xml.part("Tuba", xml.note("C2", 4)))
    data = zipped(
        {"a.xml": decoy, "META-INF/container.xml": CONTAINER, "inner/music.xml": one_bar(xml)}
    )
    assert read_score(xml.save(data, "s.mxl")).parts[0].name == "Flute"


def test_mxl_without_container(xml):
    data = zipped({"music.musicxml": one_bar(xml)})
    assert read_score(xml.save(data, "s.mxl")).parts[0].name == "Flute"


def test_zip_under_another_name(xml):
    data = zipped({"META-INF/container.xml": CONTAINER, "inner/music.xml": one_bar(xml)})
    assert read_score(xml.save(data, "s.musicxml")).parts[0].name == "Flute"


def test_mxl_that_is_no_zip(xml):
    refused(xml.save(one_bar(xml), "s.mxl"), "not a zip archive")


def test_mxl_that_is_damaged(xml):
    data = zipped({"inner/music.xml": one_bar(xml)})
    refused(xml.save(data[: len(data) // 2], "s.mxl"), "damaged zip")


def test_mxl_with_a_broken_stream(xml):
    data = bytearray(zipped({"inner/music.xml": one_bar(xml)}))
    data[60:120] = b"\xff" * 60
    refused(xml.save(bytes(data), "s.mxl"), "damaged zip")


def test_mxl_whose_file_has_a_name_without_end(xml):
    data = bytearray(zipped({"inner/music.xml": one_bar(xml)}))
    # APPNOTE.TXT 4.3.7: 26 bytes into a local header, how long the name is.
    data[26:28] = (500).to_bytes(2, "little")
    refused(xml.save(bytes(data), "s.mxl"), "damaged zip")


def test_mxl_whose_directory_points_nowhere(xml):
    data = bytearray(zipped({"inner/music.xml": one_bar(xml)}))
    # APPNOTE.TXT 4.3.16: 16 bytes into the end record, where the central directory begins.
    end = data.rindex(b"PK\x05\x06")
    data[end + 16 : end + 20] = (10**6).to_bytes(4, "little")
    refused(xml.save(bytes(data), "s.mxl"), "damaged zip")


def test_mxl_without_music(xml):
    refused(xml.save(zipped({"readme.txt": "hello"}), "s.mxl"), "without MusicXML")


def test_mxl_that_declares_too_much(xml, monkeypatch):
    monkeypatch.setattr(opening, "MAX_XML_BYTES", 1024 * 1024)
    refused(xml.save(zipped({"a.xml": b" " * 3_000_000}), "s.mxl"), "more than 1 MB")


def test_mxl_that_lies_about_its_size(xml, monkeypatch):
    monkeypatch.setattr(opening, "MAX_XML_BYTES", 1024 * 1024)
    size = 3_000_000
    data = bytearray(zipped({"a.xml": b" " * size}))
    # APPNOTE.TXT 4.3.7 and 4.3.12: the uncompressed size stands 22 bytes into the local
    # header and 24 bytes into the central one.
    central = data.rindex(b"PK\x01\x02")
    for place in (22, central + 24):
        assert int.from_bytes(data[place : place + 4], "little") == size
        data[place : place + 4] = (1000).to_bytes(4, "little")
    path = xml.save(bytes(data), "s.mxl")
    refused(path, "unpacks to more than|damaged zip")


def test_real_bomb_is_refused_quickly(xml):
    # 300 MB of zeros, which pack into a third of a megabyte.
    block = b"\0" * (1 << 20)
    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("a.xml", "w", force_zip64=True) as member,
    ):
        for _ in range(300):
            member.write(block)
    refused(xml.save(buffer.getvalue(), "s.mxl"), "more than 256 MB")


def test_time_wise_scores_are_turned(xml):
    text = (
        '<score-timewise><part-list><score-part id="P1"><part-name>Oboe</part-name>'
        '</score-part><score-part id="P2"><part-name>Horn</part-name></score-part></part-list>'
        '<measure number="1"><part id="P1"><attributes><divisions>24</divisions></attributes>'
        f'{xml.note("A4", 4)}</part><part id="P2"><attributes><divisions>24</divisions>'
        f"</attributes>{xml.note('A3', 4)}</part></measure></score-timewise>"
    )
    score = read_score(xml.save(text))
    assert [(n.part, n.pitch) for n in score.notes] == [(1, 69), (2, 57)]
