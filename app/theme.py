"""The colours, light and dark, and what they are for. Nothing else in the window names a colour.

Data and stages are in the Okabe–Ito palette, published for colour blindness (Okabe & Ito 2002). Areas take its
colours as they are; lines and words take shades of them that keep a contrast of 3:1 and 4.5:1 on the panel.
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
    x: str
    y: str
    z: str
    free_fall: str
    impact: str
    settle: str
    observe: str
    hold: str
    area_ink: str
    """Words on the areas of the five stages above."""
    free_fall_line: str
    impact_line: str
    observe_line: str
    free_fall_word: str
    impact_word: str
    observe_word: str

    @property
    def dark(self) -> bool:
        return self.name == "dark"


LIGHT = Theme(
    name="light",
    ground="#f4f3ef",
    panel="#fffefb",
    sunk="#ecebe5",
    ink="#20252b",
    muted="#69717a",
    muted_deep="#5f6770",
    hairline="#d9d6ce",
    frame="#83888c",
    handle="#c4c0b5",
    touch="#0b6a72",
    touch_ink="#ffffff",
    selection="#d6e9ea",
    wrong="#b3123a",
    label_band="#e9d8a6",
    x="#0072b2",
    y="#d55e00",
    z="#009e73",
    free_fall="#56b4e9",
    impact="#d55e00",
    settle="#b9b4a6",
    observe="#cc79a7",
    hold="#dcd8cc",
    area_ink="#14171a",
    free_fall_line="#2b86bf",
    impact_line="#b84a00",
    observe_line="#b7608f",
    free_fall_word="#1c6ea4",
    impact_word="#b84a00",
    observe_word="#a34e7c",
)

DARK = Theme(
    name="dark",
    ground="#14171a",
    panel="#1b1f23",
    sunk="#252a2f",
    ink="#e6e4de",
    muted="#98a0a8",
    muted_deep="#a4acb4",
    hairline="#31373d",
    frame="#747c84",
    handle="#4a5057",
    touch="#5bc0c8",
    touch_ink="#14171a",
    selection="#173b3e",
    wrong="#ff7d95",
    label_band="#4a4126",
    x="#4ba3d9",
    y="#f08a3c",
    z="#2bb58b",
    free_fall="#56b4e9",
    impact="#ff8f3f",
    settle="#9a968a",
    observe="#e29bc3",
    hold="#5d625f",
    area_ink="#14171a",
    free_fall_line="#56b4e9",
    impact_line="#ff8f3f",
    observe_line="#e29bc3",
    free_fall_word="#56b4e9",
    impact_word="#ff8f3f",
    observe_word="#e29bc3",
)
