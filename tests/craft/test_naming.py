import dataclasses

import pytest

from auditor.craft.naming import note_name, pitch_name


@pytest.fixture
def note(made):
    (one,) = made.page([("violin", [made.note(0, 63)])]).notes
    return one


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("D#4", "D sharp 4"), ("E-4", "E flat 4"), ("C##4", "C double sharp 4"),
        ("F--4", "F double flat 4"), ("", "E flat 4"),
    ],
)  # fmt: skip
def test_a_note_is_named_as_it_is_printed(note, spelling, name):
    assert note_name(dataclasses.replace(note, spelling=spelling)) == name


def test_a_transposed_note_is_named_as_it_sounds(note):
    printed_higher = dataclasses.replace(note, written_pitch=65, spelling="F4")
    assert note_name(printed_higher) == pitch_name(63) == "E flat 4"
