"""The colours can be read, in light and dark, and told apart, by people with any of three colour blindnesses too."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest

from app.ui.theme.colours import DARK, LIGHT, Theme

STAGES = ("free_fall", "impact", "settle", "observe", "hold")

WORDS_ON = {
    "panel": ("ink", "muted", "muted_deep", "touch", "wrong", "free_fall_word", "impact_word", "x", "y", "z"),
    "ground": ("ink", "muted_deep", "touch", "wrong"),
    "sunk": ("ink", "muted_deep", "wrong"),
    "selection": ("ink", "muted_deep", "touch", "wrong"),
    "touch": ("touch_ink",),
    "label_band": ("ink",),
    "label_area": ("ink",),
} | dict.fromkeys(STAGES, ("area_ink",))
"""A ground, and what is written on it: 4.5:1. Lines' words and the axes' letters have a veil of the panel behind."""

LINES_ON = {
    "panel": ("ink", "touch", "frame", "x", "y", "z", "free_fall_line", "impact_line", "wrong"),
    "ground": ("frame", "touch"),
    "sunk": ("ink", "muted", "touch", "wrong"),
    "selection": ("touch", "wrong"),
    "label_band": ("ink", "muted", "touch", "x", "y", "z"),
    "label_area": ("ink", "touch", "x", "y", "z", "free_fall_line", "impact_line"),
}
"""A ground, and the lines, curves, signs and frames that are drawn on it: 3:1."""

TOLD_APART = {
    "curves of the axes and the magnitude": (("x", "y", "z", "ink"), 20.0),
    "lines of thresholds and the magnitude": (("free_fall_line", "impact_line", "ink"), 20.0),
    "areas of stages that measure": (("free_fall", "impact", "settle", "observe"), 18.0),
    "areas of the stage lane": ((*STAGES, "sunk"), 7.5),
    "signs of what went right and wrong": (("touch", "wrong"), 15.0),
}
"""Colours that stand beside each other, and how far apart they are at least, in CIELAB, to every eye. Signs and areas
have a shape or a word as well."""

FAMILIES_APART = 30.0
"""An axis is so far from every stage that has a hue, in CIELAB; from the greys of settle and hold, two thirds of it."""

CONFUSIONS = {
    "none": np.eye(3),
    "protanopia": np.array(((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
                            (-0.003882, -0.048116, 1.051998))),
    "deuteranopia": np.array(((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
                              (-0.011820, 0.042940, 0.968881))),
    "tritanopia": np.array(((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602),
                            (0.004733, 0.691367, 0.303900))),
}
"""What linear RGB becomes to the eye: Machado, Oliveira and Fernandes 2009, table 1, severity 1.0 (recalled, no
source at hand; each row sums to 1, so that greys stay grey)."""

# sRGB to XYZ, D65 (IEC 61966-2-1).
TO_XYZ = np.array(((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505)))


def linear(colour: str) -> np.ndarray:
    """Linear red, green and blue, 0 to 1."""
    c = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1)."""
    return float(np.array((0.2126, 0.7152, 0.0722)) @ linear(colour))


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.1), 1 to 21."""
    dim, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dim + 0.05)


def lab(colour: str, confusion: str) -> np.ndarray:
    """CIELAB 1976, D65, as an eye sees it that has this confusion."""
    seen = np.clip(CONFUSIONS[confusion] @ linear(colour), 0, 1)
    t = (TO_XYZ @ seen) / (TO_XYZ @ np.ones(3))
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array((116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])))


def distance(one: str, other: str, confusion: str) -> float:
    return float(np.linalg.norm(lab(one, confusion) - lab(other, confusion)))


both_themes = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
every_eye = pytest.mark.parametrize("confusion", list(CONFUSIONS))


@both_themes
@pytest.mark.parametrize(("under", "over"), [(u, o) for u, overs in WORDS_ON.items() for o in overs])
def test_words_can_be_read(theme: Theme, under: str, over: str) -> None:
    assert contrast(getattr(theme, under), getattr(theme, over)) >= 4.5


@both_themes
@pytest.mark.parametrize(("under", "over"), [(u, o) for u, overs in LINES_ON.items() for o in overs])
def test_lines_can_be_seen(theme: Theme, under: str, over: str) -> None:
    assert contrast(getattr(theme, under), getattr(theme, over)) >= 3.0


@both_themes
@every_eye
@pytest.mark.parametrize("among", list(TOLD_APART))
def test_what_must_be_told_apart_can_be(theme: Theme, confusion: str, among: str) -> None:
    names, least = TOLD_APART[among]
    near = {(one, other): distance(getattr(theme, one), getattr(theme, other), confusion)
            for one, other in itertools.combinations(names, 2)}
    assert min(near.values()) >= least, {pair: round(far, 1) for pair, far in near.items() if far < least}


@both_themes
def test_axes_and_stages_are_different_families(theme: Theme) -> None:
    hues = ["observe", *(f"{stage}{kind}" for stage in ("free_fall", "impact") for kind in ("", "_line", "_word"))]
    for axis, (stages, least) in itertools.product("xyz", ((hues, 1.0), (("settle", "hold"), 2 / 3))):
        near = {stage: distance(getattr(theme, axis), getattr(theme, stage), "none") for stage in stages}
        assert min(near.values()) >= least * FAMILIES_APART, (axis, near)


@both_themes
def test_stages_have_the_published_palettes_colours_as_areas(theme: Theme) -> None:
    # Okabe & Ito 2002: sky blue, vermillion, reddish purple.
    assert (theme.free_fall, theme.impact, theme.observe) == ("#56b4e9", "#d55e00", "#cc79a7")


def test_the_ratio_is_the_published_one() -> None:
    # WCAG 2.1: white on black is 21:1; #767676 is the lightest grey that passes 4.5:1 on white (from memory).
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#ffffff", "#767676") >= 4.5 > contrast("#ffffff", "#777777")


@every_eye
def test_greys_stay_grey_to_every_eye(confusion: str) -> None:
    assert lab("#808080", confusion) == pytest.approx([53.6, 0, 0], abs=0.1)


def test_red_and_green_are_confused_where_they_must_be() -> None:
    # The same pair that a usual eye tells apart at a glance.
    assert distance("#c00000", "#5f6b00", "none") > 60
    assert min(distance("#c00000", "#5f6b00", eye) for eye in ("protanopia", "deuteranopia")) < 25


@both_themes
def test_every_colour_is_written_in_full(theme: Theme) -> None:
    colours = {f.name: getattr(theme, f.name) for f in dataclasses.fields(theme) if f.name != "name"}
    assert all(len(c) == 7 and c.startswith("#") and int(c[1:], 16) >= 0 for c in colours.values()), colours
