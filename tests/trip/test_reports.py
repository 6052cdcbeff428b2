"""Reports in the forms operators use. The S-scale is IARU Region 1 R.1: S9 = -93 dBm, 6 dB a unit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathprofile.errors import OutOfRangeError
from pathprofile.trip.reports import parse_report


@pytest.mark.parametrize(
    ("text", "level_dbm"),
    [
        ("59", -93.0),
        ("599", -93.0),
        ("5NN", -93.0),
        ("5/9", -93.0),
        ("5 by 7", -105.0),
        ("57", -105.0),
        ("339", -129.0),
        ("S7", -105.0),
        ("s3", -129.0),
        ("5x9+10", -83.0),
        ("5×9+10", -83.0),
        ("59+20dB", -73.0),
        ("59 plus 20", -73.0),
        ("S9+40 dB", -53.0),
        ("20 over 9", -73.0),
        ("10 dB over S9", -83.0),
    ],
)
def test_s_figures_are_levels(text: str, level_dbm: float) -> None:
    report = parse_report(text)
    assert (report.kind, report.level_dbm, report.at_least) == ("reading", level_dbm, False)
    assert report.text == text


def test_bare_nine_may_be_courtesy_and_nine_plus_is_a_bound() -> None:
    assert [parse_report(text).courtesy for text in ("59", "599", "58", "59+10")] == [
        True,
        True,
        False,
        False,
    ]
    assert parse_report("59+").at_least
    assert parse_report("59+").level_dbm == -93.0


def test_readability_is_kept() -> None:
    assert [parse_report(text).readability for text in ("59", "339", "S7")] == [5, 3, None]


@pytest.mark.parametrize(
    ("text", "snr_db"),
    [("-12", -12.0), ("\u221212", -12.0), ("+03", 3.0), ("-8,5 dB", -8.5), ("12 dB", 12.0), ("- 7", -7.0)],
)
def test_decibels_of_a_decoder(text: str, snr_db: float) -> None:
    report = parse_report(text)
    assert (report.snr_db, report.level_dbm) == (snr_db, None)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("in and out", "in and out"),
        ('"In and out"', "in and out"),
        ("noisy", "noisy"),
        ("quieting", "some quieting"),
        ("Full quieting!", "quiet"),
        ("full quieting.", "quiet"),
        ("readable", "readable"),
    ],
)
def test_words(text: str, word: str) -> None:
    report = parse_report(text)
    assert (report.kind, report.word, report.level_dbm) == ("words", word, None)


@pytest.mark.parametrize("text", ["S3, in and out", "in and out (S3)", "S3 but noisy"])
def test_figure_with_words(text: str) -> None:
    report = parse_report(text)
    assert report.level_dbm == -129.0
    assert report.word in {"in and out", "noisy"}


@pytest.mark.parametrize("text", ["", " ", "-", "--", "?", "n/a"])
def test_nothing_written(text: str) -> None:
    assert parse_report(text).kind == "none"


@pytest.mark.parametrize("text", ["nil", "Not heard", "nothing heard", "no copy", "unreadable"])
def test_not_heard(text: str) -> None:
    assert parse_report(text).kind == "not heard"
    assert not parse_report(text).heard


@pytest.mark.parametrize(
    "text", ["blah", "57+10", "69", "S", "5", "0", "599599", "59+200", "-120", "hello 59"]
)
def test_refuses_what_it_cannot_read(text: str) -> None:
    with pytest.raises(OutOfRangeError, match=r"^report '.*' not understood; accepted: 59, 599, 5x9\+10, S7"):
        parse_report(text)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    said = ""
    try:
        parse_report(text)
    except OutOfRangeError as error:
        said = str(error)
    assert "\n" not in said
