"""What the study's device, or a part in its place, comes to against what the study requires: a row each, met or not."""

from __future__ import annotations

from collections.abc import Iterator

from app.formatting import MINUS
from app.study.device.budget import alarms_of, slept_of
from app.study.device.cost import NUMBERS, borne
from app.study.results import worth
from app.study.results.readout import percent_range
from app.study.session import Session
from app.study.state import Study
from detect.device.energy.budget import response_s
from detect.device.quantities import FROM_MEMORY, Values
from detect.device.requirements import ANYWHERE, Held, at_least, at_most, requirements_of
from detect.device.sleep.worst_part import AsleepLoss
from detect.rule.front_end import FrontEnd
from detect.scoring.figures import Figures, figures
from detect.scoring.intervals import Estimate

TITLES = ("requirement", "wanted", "found", "met", "to spare", "origin")


def held(study: Study, values: Values, front_end: FrontEnd, score: Figures | None, days: float | None,
         works_c: tuple[float, float] | None, asleep: AsleepLoss | None = None,
         part_origin: str = "the study's numbers", others: Estimate | None = None) -> Iterator[Held]:
    """A device with these numbers on this sensor. `score`: of the study's settings on it; `works_c`: where its part
    works; None where nobody says. `asleep`: what it loses by sleeping, None
    where it never does. `part_origin`: where the part's numbers come from. `others`: the share of falls caught of
    people left out of the search, where it is known of these settings: the requirement is held against that."""
    need = requirements_of(values)
    origin = "in-sample, the study's recordings and settings"
    share = caught(score, asleep)
    if share is not None and others is not None and score is not None and score.sensitivity is not None:
        share += others.value - score.sensitivity.value
    caught_of = origin if others is None else f"people left out of the search, {percent_range(others)}"
    yield at_least("falls caught", "%", 100 * need.sensitivity, None if share is None else 100 * max(share, 0.0),
                   caught_of if asleep is None else f"{caught_of}; asleep until woken, of the worst part")
    free = None if score is None else next((u for u in score.unlabelled if u.setting == "free-living"), None)
    rate = None if free is None or free.per_24h is None else free.per_24h.value
    yield at_most("false alarms", "a day", need.false_per_day, rate, f"{origin}; free-living time only")
    numbers = _origin(values, part_origin)
    yield at_least("battery", "days", need.days, days, numbers)
    yield at_most("impact to station", "s", need.response_s,
                  response_s(values, front_end, study.settings, None if asleep is None else asleep.later_ms), numbers)
    coldest, warmest = (None, None) if works_c is None else works_c
    yield at_most("coldest", "°C", need.lowest_c, coldest, part_origin)
    yield at_least("warmest", "°C", need.highest_c, warmest, part_origin)
    worn = {item.about.placement for item in study.items if item.scored}
    known = bool(worn - {""})
    yield Held("placement", need.placement, ", ".join(sorted(worn - {""})) or "no data",
               worn == {need.placement} if known and need.placement != ANYWHERE else None, None,
               "what the recordings say of themselves; elsewhere nothing is known")


def caught(score: Figures | None, asleep: AsleepLoss | None) -> float | None:
    """Share of the falls that a device catches, those lost by sleeping left out; None where nothing is known."""
    if score is None or score.sensitivity is None or (asleep is not None and asleep.refused):
        return None
    m = score.matrix
    return (m.tp - (0 if asleep is None else asleep.lost)) / (m.tp + m.fn)


def _origin(values: Values, part_origin: str) -> str:
    """Where a figure's numbers come from: the part's, and those of the device that nobody has touched."""
    recalled = sum(key not in values.given and values.row(key).origin == FROM_MEMORY for key in values.under(*NUMBERS))
    return part_origin + (f"; {recalled} numbers that nobody has touched: {FROM_MEMORY}" if recalled else "")


def of_study(session: Session) -> tuple[Held, ...]:
    """The study's own device, with the sensor that is scored; nobody says where that works."""
    study, slept = session.study, slept_of(session)
    found = borne(study.device, study.front_end, alarms_of(session).sent_per_day)
    known = session.worth()
    of_these = known is not None and not known.changed and not known.stale
    return tuple(held(study, study.device, study.front_end, figures(session.found().score),
                      None if found is None else found.days, None, None if slept is None else slept.loss,
                      others=worth.left_out_figures(known.record).sensitivity if known and of_these else None))


def rows(found: tuple[Held, ...]) -> tuple[tuple[str, ...], ...]:
    """Under TITLES."""
    return tuple((one.name, one.wanted, one.found, {True: "met", False: "NOT MET", None: "not known"}[one.met],
                  "" if one.short is None else f"{-one.short:.4g}".replace("-", MINUS), one.origin) for one in found)
