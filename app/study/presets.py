"""Settings to start from: data, each with its origin. A preset takes the default for what it doesn't name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from detect.settings import Settings, Value, from_plain


@dataclass(frozen=True)
class Preset:
    title: str
    origin: str
    values: Mapping[str, Value] = field(default_factory=dict)

    @property
    def settings(self) -> Settings:
        return from_plain(self.values)[0]


PRESETS = (
    Preset("Waist", "a common starting point, from memory, tuned by nobody"),
    Preset("Waist, impact and posture only",
           "common practice, no source: without the free-fall stage, for sliding falls",
           {"free_fall_on": False, "impact_g": 2.5, "busy_on": True}),
    Preset("Wrist", "from memory, tuned by nobody: arms swing, so the impact is higher and stillness is lax",
           {"free_fall_on": False, "impact_g": 3.0, "busy_on": True, "still_g": 0.5}),
)


def preset(title: str) -> Preset:
    return next(one for one in PRESETS if one.title == title)
