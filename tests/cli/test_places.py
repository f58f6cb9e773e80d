"""Where results may go, and where not."""

import pytest


@pytest.mark.parametrize("out", [".", ""])
def test_results_have_a_folder_of_their_own(auditor, files, out, refused):
    left = auditor("audit", files / "march.musicxml", files / "march.wav", "-o", out)
    refused(left, 2, "is the folder you are in")


def test_results_inside_a_file(auditor, files, refused):
    inside = files / "march.wav" / "deep" / "result"
    left = auditor("audit", files / "march.musicxml", files / "march.wav", "-o", inside)
    refused(left, 2, "march.wav is a file")
    assert "reading" not in left.err
