"""The colours can be read, in light and dark."""

from __future__ import annotations

import dataclasses

import pytest

from app.theme import DARK, LIGHT, Theme


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.1), 1 to 21."""
    dim, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dim + 0.05)


WORDS_ON = {
    "panel": ("ink", "muted", "muted_deep", "touch", "wrong", "free_fall_word", "impact_word", "observe_word"),
    "ground": ("ink", "muted_deep", "touch", "wrong"),
    "sunk": ("ink", "muted_deep", "wrong"),
    "selection": ("ink", "muted_deep", "touch", "wrong"),
    "touch": ("touch_ink",),
    "label_band": ("ink",),
    "free_fall": ("area_ink",),
    "impact": ("area_ink",),
    "settle": ("area_ink",),
    "observe": ("area_ink",),
}
LINES_ON = {
    "panel": ("ink", "touch", "frame", "x", "y", "z", "free_fall_line", "impact_line", "observe_line", "wrong"),
    "ground": ("frame", "touch"),
}


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
@pytest.mark.parametrize(("under", "over"), [(u, o) for u, overs in WORDS_ON.items() for o in overs])
def test_words_can_be_read(theme: Theme, under: str, over: str) -> None:
    assert contrast(getattr(theme, under), getattr(theme, over)) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
@pytest.mark.parametrize(("under", "over"), [(u, o) for u, overs in LINES_ON.items() for o in overs])
def test_lines_can_be_seen(theme: Theme, under: str, over: str) -> None:
    assert contrast(getattr(theme, under), getattr(theme, over)) >= 3.0


def test_the_ratio_is_the_published_one() -> None:
    # WCAG 2.1: white on black is 21:1; #767676 is the lightest grey that passes 4.5:1 on white (from memory).
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#ffffff", "#767676") >= 4.5 > contrast("#ffffff", "#777777")


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
def test_every_colour_is_written_in_full(theme: Theme) -> None:
    colours = {f.name: getattr(theme, f.name) for f in dataclasses.fields(theme) if f.name != "name"}
    assert all(len(c) == 7 and c.startswith("#") and int(c[1:], 16) >= 0 for c in colours.values()), colours
