"""What a product is for, asked once and kept in the study: the first page of its report."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields

from data.plain_values import Fields


@dataclass(frozen=True)
class IntendedUse:
    """Free text each, empty where nobody said."""

    product: str = ""
    purpose: str = ""
    wearer: str = ""
    placement: str = ""
    requirements: str = ""
    exclusions: str = ""
    protocol: str = ""


QUESTIONS = {
    "product": "Which device is it, in which release?",
    "purpose": "What is it for, and what happens at an alarm?",
    "wearer": "Who wears it: age, health, walking aids, who must not?",
    "placement": "Where is it worn, and how is it fixed?",
    "requirements": "Which falls must it catch, how many false alarms a day are bearable?",
    "exclusions": "Which falls and uses is it not for?",
    "protocol": "How were the recordings made: who fell, onto what, by which instructions, under whose approval?",
}


def to_plain(use: IntendedUse) -> dict[str, str]:
    return {key: value for key, value in asdict(use).items() if value}


def from_plain(part: Fields) -> IntendedUse:
    use = IntendedUse(**{field.name: part.text(field.name) for field in fields(IntendedUse)})
    part.done()
    return use
