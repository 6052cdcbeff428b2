"""Contrast as the W3C Web Content Accessibility Guidelines 2.2 define it (glossary: contrast ratio)."""

from __future__ import annotations

from pathlib import Path

import pytest

from pathprofile.draw.style import HIGHLIGHT, INK, PAPER, SOFT_INK, Faces


def _luminance(color: str) -> float:
    def linear(channel: int) -> float:
        c = channel / 255
        return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(int(color[i : i + 2], 16)) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(a: str, b: str) -> float:
    low, high = sorted((_luminance(a), _luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_its_published_limits() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2, contrast ratio: 1 to 21
    assert _contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # well-known near miss of 4.5


@pytest.mark.parametrize("text", [INK, SOFT_INK])
def test_text_has_enhanced_contrast(text: str) -> None:
    assert _contrast(text, PAPER) >= 7.0  # WCAG 2.2 §1.4.6


def test_marks_stand_out_from_the_ground() -> None:
    assert _contrast(HIGHLIGHT, INK) >= 3.0  # WCAG 2.2 §1.4.11
    assert _contrast(PAPER, INK) >= 7.0


def test_three_tones_stay_apart_in_grey() -> None:
    def lightness(color: str) -> float:  # CIE 1976 L*, CIE 15:2018
        return 116 * _luminance(color) ** (1 / 3) - 16

    tones = sorted(lightness(color) for color in (INK, HIGHLIGHT, PAPER))
    assert tones[1] - tones[0] > 40
    assert tones[2] - tones[1] > 15


def test_faces_are_files_that_come_with_matplotlib() -> None:
    faces = Faces()
    assert Path(faces.regular_file).is_file()
    assert Path(faces.bold_file).is_file()
    assert faces.bold(20.0).get_size_in_points() == 20.0
