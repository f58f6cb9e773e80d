import csv
import json
import xml.etree.ElementTree as ET

import mir_eval
import numpy as np
import pytest
import soundfile
from music_made import made_score, melody, played

from auditor.alignment.aligning import align
from auditor.errors import InputError
from auditor.report.map_picture import outside_spans
from auditor.report.map_results import FILES, check_map_place, write_map
from auditor.sound.features import listen, listen_to
from auditor.sound.reading import Sound, read_sound, stream_sound

SVG = "{http://www.w3.org/2000/svg}"


def sound_of(samples: np.ndarray) -> Sound:
    return Sound(samples, 44_100, 1, samples.size / 44_100, "made.wav")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    score = made_score(melody(21, 16))
    samples, truth = played(score, seed=22, order=[*range(6), *range(9, 16)])
    timeline = align(score, sound_of(samples))
    folder = tmp_path_factory.mktemp("map") / "map"
    write_map(score, timeline, folder, sound="made.wav", duration_s=samples.size / 44_100)
    return score, samples, truth, timeline, folder


def test_the_folder_holds_all_files_and_nothing_else(made):
    assert sorted(p.name for p in made[-1].iterdir()) == sorted(FILES)


def test_the_table_gives_back_the_timeline(made):
    score, _, truth, timeline, folder = made
    with (folder / "alignment.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    quarters = np.array([float(r["onset_quarters"]) for r in rows])
    seconds = np.array([float(r["onset_s"] or "nan") for r in rows])
    np.testing.assert_allclose(seconds, timeline.seconds(quarters), atol=5.1e-5)
    # mir_eval 0.8 judges the file as others would read it: suggested window 300 ms for lyrics
    # (its default); notes of a mock-up deserve 50 ms.
    onsets = {n.onset: t for n, t in zip(score.notes, truth, strict=True) if np.isfinite(t)}
    pairs = [(onsets[q], s) for q, s in zip(quarters, seconds, strict=True) if q in onsets]
    reference, estimate = (np.array(x) for x in zip(*pairs, strict=True))
    assert mir_eval.alignment.percentage_correct(reference, estimate, window=0.05) >= 0.95


def test_the_json_keeps_every_knot_and_says_what_is_missing(made):
    _, _, _, timeline, folder = made
    record = json.loads((folder / "alignment.json").read_text(encoding="utf-8"))
    assert [len(s["quarters"]) for s in record["stretches"]] == [
        run.quarters.size for run in timeline.stretches
    ]
    assert record["surprises"] == ["the music of bars 7 to 9 is not played"]
    assert [b["start_s"] for b in record["bars"][6:9]] == [None] * 3


def test_the_picture_is_xml_with_a_title_and_reads_without_colour(made):
    folder = made[-1]
    root = ET.fromstring((folder / "alignment.svg").read_text(encoding="utf-8"))
    assert root.find(f"{SVG}title").text.endswith("bars against made.wav")
    kinds = [e.get("class") for e in root.iter(f"{SVG}line")]
    assert kinds.count("sure") + kinds.count("doubtful") >= 13
    assert "seam" in kinds
    assert sum(e.get("class") == "missing" for e in root.iter(f"{SVG}rect")) == 3
    page = (folder / "alignment.html").read_text(encoding="utf-8")
    assert page.count("<tr>") == 1 + 16


def test_what_lies_outside_is_told_in_seconds(made):
    _, samples, truth, timeline, _ = made
    longer = samples.size / 44_100 + 5.0
    last = outside_spans(timeline, longer)[-1]
    assert last[1] == longer
    assert last[0] >= np.nanmax(truth)


def test_a_folder_of_other_things_is_left_alone(made, tmp_path):
    (tmp_path / "letter.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(InputError, match="not a result of an alignment"):
        check_map_place(tmp_path, force=True)
    with pytest.raises(InputError, match="already holds a result"):
        check_map_place(made[-1], force=False)


def test_force_replaces_ours_and_keeps_the_rest(made):
    score, samples, _, timeline, folder = made
    (folder / "note.txt").write_text("keep", encoding="utf-8")
    write_map(
        score, timeline, folder, sound="again.wav", duration_s=samples.size / 44_100, force=True
    )
    assert "again.wav" in (folder / "alignment.json").read_text(encoding="utf-8")
    assert (folder / "note.txt").read_text(encoding="utf-8") == "keep"
    (folder / "note.txt").unlink()


def test_a_sound_read_in_pieces_is_heard_as_one_read_whole(made, tmp_path):
    path = tmp_path / "a.wav"
    soundfile.write(path, np.stack([made[1], 0.5 * made[1]], axis=1), 48_000)
    whole, pieces = listen(read_sound(path).samples), listen_to(stream_sound(path).blocks)
    for name in ("chroma", "pitch", "flux", "level_db"):
        np.testing.assert_allclose(getattr(pieces, name), getattr(whole, name), atol=0.02)
    assert pieces.tuning == pytest.approx(whole.tuning, abs=0.02)
