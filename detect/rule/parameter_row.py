"""What a row of the table of parameters says, and what is refused at import where it says too little.

The table itself is `detect/rule/parameters.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from enum import Enum
from types import MappingProxyType
from typing import Any

Value = float | bool | str | int | tuple[float, float, float]

LARGEST_THRESHOLD = 56756
"""⌈√3·32768⌉: no magnitude of three int16 reaches it."""

LONGEST_WINDOW = 4096
LONGEST_WAIT = 65535

COSINE_ONE = 1 << 14
"""1.0 in the fixed point of cosines; also the size to which vectors are doubled before their angle is judged."""


class Unit(Enum):
    """What a setting is measured in; the text is the unit as people read it."""

    G = "g"
    MS = "ms"
    DEGREE = "°"
    PERCENT = "%"
    SWITCH = "on/off"
    CHOICE = "choice"
    VECTOR = "g, three axes"


NUMBERS = (Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT)

GROUPS: Mapping[str, str] = MappingProxyType({
    "front_end": "Pre-filter", "free_fall": "Free fall", "impact": "Impact", "afterwards": "Afterwards",
    "before": "Before", "alarm": "Alarm"})
"""Groups of settings by their key, and their headings."""


class IncompleteRow(ValueError):
    """A row of the table that says too little, or what contradicts another: names the row and its field."""

    def __init__(self, key: object, field: str, message: str) -> None:
        named = f'row "{key}"' if isinstance(key, str) else "a row without a key"
        super().__init__(f"detect/rule/parameters.py, {named}, {field}: {message}")
        self.key, self.field = key, field


_MISSING: Any = object()
"""What a field is until the row says it."""


@dataclass(frozen=True)
class Integer:
    """One integer that a setting becomes: `field` of Rule, `member` of plf_settings, in capitals the header's macro.

    `least`, `most`: bounds that the rule's arithmetic needs. `letter`: its letter in DEVELOPERS.md. A value v in g
    becomes the counts of `offset` + `factor` · v, which are at least `least` where it is the `factor` that takes them
    below. `axis`: of a vector the component, and `member` then one of the array `array`.
    """

    field: str
    member: str
    least: int
    most: int
    letter: str = ""
    offset: float = 0.0
    factor: float = 1.0
    axis: int | None = None
    array: str = ""

    @property
    def macro(self) -> str:
        return f"PLF_{self.member.upper()}"

    @property
    def signed(self) -> bool:
        return self.least < 0

    @property
    def c_type(self) -> str:
        return "int16_t" if self.signed else "uint16_t"

    @property
    def c_name(self) -> str:
        """The member as an expression of C."""
        return self.member if self.axis is None else f"{self.array}[{self.axis}]"


@dataclass(frozen=True)
class Tuning:
    """What a search may try of a number: bounds unless told otherwise, and the step between neighbouring coarse levels,
    a ratio for g and ms, a difference for angles and shares.

    `turn`: a search tunes settings of turn 1 before those of turn 2; none of 0 unless it is told to. `off`: where the
    level "off" stands, for the one number of a switch that is tuned together with it.
    """

    low: float
    high: float
    step: float
    turn: int = 0
    off: str = ""


OFF_LOWEST, OFF_HIGHEST = "lowest", "highest"
"""Where "off" stands among the levels of a threshold: next to the loosest."""

ALWAYS = ""
"""What a setting needs that means something whatever is switched off."""


_NOTHING: Mapping[str, Any] = MappingProxyType({
    "low": 0.0, "high": 0.0, "step": 0.0, "tuning": Tuning(0.0, 0.0, 0.0), "choices": (), "share_of": ""})
"""What a field is that a kind of row does not have."""


@dataclass(frozen=True)
class Parameter:
    """One row. `low` and `high` are the slider's ends in the row's unit, not limits of the rule: those are bounds of
    its `integers`. `step` is a coarse, sensible step of the slider.

    `spoken`: its name where the group is not in sight; `title` stands below the group's heading. `needs`: the switch
    without which it means nothing, "" for none. `share_of`: of a percentage, the key of the duration it is a share of.
    """

    key: str = _MISSING
    group: str = _MISSING
    unit: Unit = _MISSING
    default: Value = _MISSING
    title: str = _MISSING
    spoken: str = _MISSING
    sentence: str = _MISSING
    integers: tuple[Integer, ...] = _MISSING
    needs: str = _MISSING
    low: float = _MISSING
    high: float = _MISSING
    step: float = _MISSING
    tuning: Tuning = _MISSING
    choices: tuple[Value, ...] = _MISSING
    share_of: str = _MISSING

    def __post_init__(self) -> None:
        for field in fields(self):
            if getattr(self, field.name) is _MISSING and field.name not in self._not_said:
                raise IncompleteRow(self.key, field.name, "is missing.")
        for name, is_wrong, message in self._faults():
            if is_wrong:
                raise IncompleteRow(self.key, name, message)
        for name in self._not_said:
            object.__setattr__(self, name, _NOTHING[name])

    @property
    def _not_said(self) -> tuple[str, ...]:
        """Fields that this kind of row does not have."""
        unit = self.unit
        return (*(() if unit in NUMBERS else ("tuning",)),
                *(() if unit in (*NUMBERS, Unit.VECTOR) else ("low", "high", "step")),
                *(() if unit is Unit.CHOICE else ("choices",)), *(() if unit is Unit.PERCENT else ("share_of",)))

    def _faults(self) -> Iterable[tuple[str, bool, str]]:
        """Field, whether it is wrong, and the sentence."""
        for name in ("key", "title", "spoken", "sentence", "integers"):
            yield name, not getattr(self, name), "is empty."
        yield "group", self.group not in GROUPS, f'"{self.group}" is not one of {", ".join(GROUPS)}.'
        yield "sentence", not self.sentence.endswith("."), "has no full stop."
        for name in self._not_said:
            yield name, getattr(self, name) not in (_MISSING, _NOTHING[name]), \
                f"has no meaning for the unit {self.unit.value}."
        if self.unit in NUMBERS:
            yield "default", not (isinstance(self.default, int | float) and self.low <= self.default <= self.high), \
                f"{self.default!r} is not between low and high."
            yield "step", not 0 < self.step < self.high - self.low, f"{self.step:g} is not between 0 and the range."
            yield from self._tuning_faults(self.tuning)
        if self.unit is Unit.CHOICE:
            yield "choices", len(self.choices) < 2, "are fewer than two."
            yield "default", self.default not in self.choices, f"{self.default!r} is not one of the choices."
        yield "default", self.unit is Unit.SWITCH and not isinstance(self.default, bool), "is neither True nor False."
        axes = (0, 1, 2) if self.unit is Unit.VECTOR else (None,) * len(self.integers)
        yield "integers", tuple(one.axis for one in self.integers) != axes, "are not one for each axis of a vector."
        for one in self.integers:
            within = (-32768, 32767) if one.signed else (0, 65535)
            yield "integers", not within[0] <= one.least < one.most <= within[1], \
                f"{one.member} has bounds that {one.c_type} can't hold."
            yield "integers", (one.axis is not None) != bool(one.array), f"{one.member} needs its array."

    def _tuning_faults(self, tuning: Tuning) -> Iterable[tuple[str, bool, str]]:
        ratio = self.unit in (Unit.G, Unit.MS)
        yield "tuning", not tuning.low < tuning.high, "has its bounds the wrong way round."
        yield "tuning", ratio and (tuning.low <= 0 or tuning.step <= 1), "needs a bound above 0 and a ratio above 1."
        yield "tuning", not tuning.step > 0, "has no step."
        yield "tuning", tuning.off not in ("", OFF_LOWEST, OFF_HIGHEST), f'"{tuning.off}" is not a place for "off".'
        yield "needs", bool(tuning.off) and not self.needs, 'is empty, so nothing can be "off".'

    @property
    def is_number(self) -> bool:
        return self.unit in NUMBERS

    @property
    def is_flag(self) -> bool:
        """A switch, or a choice of two words: Rule has a bool for it."""
        return self.unit is Unit.SWITCH or (self.unit is Unit.CHOICE and len(self.choices) == 2
                                            and isinstance(self.choices[0], str))

    def integer_of_choice(self, value: Value) -> int:
        """Of numbers the number itself, of words their place."""
        return value if isinstance(value, int) else self.choices.index(value)

    def choice_of(self, integer: int) -> Value:
        """The inverse."""
        return integer if isinstance(self.choices[0], int) else self.choices[integer]


def checked(rows: tuple[Parameter, ...]) -> tuple[Parameter, ...]:
    """The rows as they are; IncompleteRow where two of them contradict each other."""
    by_key = {row.key: row for row in rows}
    taken: dict[str, str] = {}
    tuned_with: dict[str, str] = {}
    for row in rows:
        names = (f"key {row.key}", *(f"member {one.member}" for one in row.integers),
                 *(f"field {name}" for name in dict.fromkeys(one.field for one in row.integers)))
        for name in names:
            if name in taken:
                raise IncompleteRow(row.key, name.partition(" ")[0], f'is the same as of "{taken[name]}".')
            taken[name] = row.key
        switch = by_key.get(row.needs)
        if row.needs and (switch is None or switch.unit is not Unit.SWITCH or f"key {row.needs}" not in taken):
            raise IncompleteRow(row.key, "needs", f'"{row.needs}" is not a switch above it in the table.')
        if row.is_number and row.tuning.off and tuned_with.setdefault(row.needs, row.key) != row.key:
            raise IncompleteRow(row.key, "tuning", f'"{tuned_with[row.needs]}" has the level "off" of {row.needs}.')
        if row.unit is Unit.PERCENT:
            whole = by_key.get(row.share_of)
            if whole is None or whole.unit is not Unit.MS:
                raise IncompleteRow(row.key, "share_of", f'"{row.share_of}" is not a duration of the table.')
    return rows
