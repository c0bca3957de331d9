"""The colours, light and dark, and what they are for. Nothing else in the window names a colour.

Stages are in the Okabe–Ito palette, published for colour blindness (Okabe & Ito 2002). Areas take its colours as they
are; lines and words take shades of them that keep a contrast of 3:1 and 4.5:1 where they stand. The axes x, y, z have
a family of their own: violet, olive, brown. So a hue means one thing.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Theme:
    """Colours as "#rrggbb". Words may be written in ink, muted, touch, wrong and every `…_word`."""

    name: str
    ground: str
    panel: str
    sunk: str
    """What lies a little deeper than the panel: grooves, the matrix' cells of what went wrong, the idle rule."""
    ink: str
    muted: str
    """Words of second rank on the panel."""
    muted_deep: str
    """The same on ground, sunk and selection, where muted would be too faint."""
    hairline: str
    frame: str
    """The edge of a field or a switch that is off: a line that must be seen."""
    handle: str
    """Of a scroll bar: there, and no louder than it must be."""
    touch: str
    touch_ink: str
    """Words on touch."""
    selection: str
    wrong: str
    label_band: str
    label_area: str
    """What a label's band becomes behind the curves."""
    x: str
    y: str
    z: str
    """Lines and letters of the axes, never anything else."""
    free_fall: str
    impact: str
    settle: str
    observe: str
    hold: str
    area_ink: str
    """Words on the areas of the five stages above."""
    free_fall_line: str
    impact_line: str
    free_fall_word: str
    impact_word: str


_COLOURS = {
    "ground": ("#f4f3ef", "#14171a"),
    "panel": ("#fffefb", "#1b1f23"),
    "sunk": ("#ecebe5", "#252a2f"),
    "ink": ("#20252b", "#e6e4de"),
    "muted": ("#69717a", "#98a0a8"),
    "muted_deep": ("#5f6770", "#a4acb4"),
    "hairline": ("#d9d6ce", "#31373d"),
    "frame": ("#83888c", "#747c84"),
    "handle": ("#c4c0b5", "#4a5057"),
    "touch": ("#0b6a72", "#5bc0c8"),
    "touch_ink": ("#ffffff", "#14171a"),
    "selection": ("#d6e9ea", "#173b3e"),
    "wrong": ("#b3123a", "#ff7d95"),
    "label_band": ("#e9d8a6", "#4a4126"),
    "label_area": ("#f2e7c8", "#373325"),
    "x": ("#5c43a6", "#a487ea"),
    "y": ("#6b7c2f", "#9ab83c"),
    "z": ("#5d432d", "#b68d6c"),
    "free_fall": ("#56b4e9", "#56b4e9"),
    "impact": ("#d55e00", "#d55e00"),
    "settle": ("#b9b4a6", "#b9b4a6"),
    "observe": ("#cc79a7", "#cc79a7"),
    "hold": ("#d3cec0", "#7f8583"),
    "area_ink": ("#14171a", "#14171a"),
    "free_fall_line": ("#2b86bf", "#56b4e9"),
    "impact_line": ("#b84a00", "#ff8f3f"),
    "free_fall_word": ("#1c6ea4", "#56b4e9"),
    "impact_word": ("#b84a00", "#ff8f3f"),
}
"""Of each: light, dark."""

LIGHT, DARK = (Theme(name, **{key: pair[at] for key, pair in _COLOURS.items()})
               for at, name in enumerate(("light", "dark")))

DARK_EDGE, LIGHT_EDGE = "#14171a", "#ffffff"
"""One around the other they are seen on any ground, of a picture too."""
