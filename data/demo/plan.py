"""Who does what, how often: one row an activity."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from data.demo import everyday, falls, outings
from data.demo.scene import Scene
from data.demo.tumble import FLOOR, LAWN, PAVING, SOIL, Ground

Script = Callable[[Scene, str], None]


@dataclass(frozen=True)
class Row:
    """An activity, its script, and its wearers: one recording each, counted as trials for each wearer."""

    activity: str
    script: Script
    wearers: str
    setting: str = "staged"


def _drop(way: str, low_m: float, high_m: float, ground: Ground) -> Script:
    return partial(falls.drop, way=way, low_m=low_m, high_m=high_m, ground=ground)


def _stool(way: str, low_m: float, high_m: float, ground: Ground) -> Script:
    return partial(falls.drop_from_stand, way=way, low_m=low_m, high_m=high_m, ground=ground)


FALLS = (
    Row("porch back", _drop("back", 0.42, 0.58, LAWN), "W01 W04 W04 W06 W08"),
    Row("porch left", _drop("left", 0.40, 0.55, LAWN), "W02 W05"),
    Row("porch right", _drop("right", 0.40, 0.55, LAWN), "W03 W07"),
    Row("porch forward", _drop("forward", 0.42, 0.55, SOIL), "W01 W03 W05"),
    Row("kerb forward", partial(falls.trip, way="forward", ground=LAWN), "W01 W02 W03 W06 W07"),
    Row("kerb left", partial(falls.trip, way="left", ground=PAVING), "W04"),
    Row("kerb right", partial(falls.trip, way="right", ground=LAWN), "W05 W08"),
    Row("stool left", _stool("left", 0.40, 0.50, FLOOR), "W02 W06"),
    Row("stool right", _stool("right", 0.40, 0.50, FLOOR), "W05"),
    Row("stool back", _stool("back", 0.42, 0.55, FLOOR), "W01 W03 W07"),
    Row("path slip", _drop("back", 0.34, 0.44, PAVING), "W02 W04 W06 W08"),
    Row("bed edge left", partial(falls.drop_from_bed, way="left", ground=FLOOR), "W04 W07"),
    Row("bed edge right", partial(falls.drop_from_bed, way="right", ground=FLOOR), "W08"),
    Row("steps crumple", partial(falls.crumple, way="forward"), "W01 W05 W06"),
    Row("faint left", partial(falls.faint, way="left"), "W08"),
    Row("faint back", partial(falls.faint, way="back"), "W02"),
    Row("faint forward", partial(falls.faint, way="forward"), "W03"),
    Row("ladder back", _stool("back", 0.85, 0.95, LAWN), "W07"),
    Row("ladder left", _stool("left", 0.80, 0.90, LAWN), "W05"),
    Row("wall slide", falls.slide_down, "W08"),
    Row("rail slip", falls.slip_through_the_hand, "W03"),
    Row("compost heap", falls.into_the_heap, "W02"),
    Row("step stagger", falls.stagger, "W06"),
    Row("porch writhe", falls.writhe, "W01"),
    Row("seat miss", falls.miss_the_seat, "W07"),
    Row("weeding pitch", falls.pitch_over_weeding, "W05"),
    Row("porch cut early", falls.logger_stops_early, "W04"),
    Row("porch cut at once", falls.logger_stops_at_once, "W02"),
    Row("porch cut in the air", falls.plug_comes_loose, "W07"),
    Row("porch twice", falls.fall_twice, "W03"),
)

OTHERS = (
    Row("rake leaves", everyday.rake, "W01 W02 W04 W06 W08"),
    Row("sweep", everyday.sweep, "W03 W07"),
    Row("dig", everyday.dig, "W01 W03 W05"),
    Row("wheelbarrow", everyday.push_wheelbarrow, "W02 W05 W06 W07"),
    Row("mow", everyday.mow, "W04 W08"),
    Row("kneel and weed", everyday.kneel_and_weed, "W02 W06 W08"),
    Row("water", everyday.water, "W04 W05"),
    Row("clap", everyday.applaud, "W01 W03 W08"),
    Row("stairs", everyday.climb_stairs, "W02 W04 W06 W07"),
    Row("sit and get up", everyday.sit_and_get_up, "W01 W05 W08"),
    Row("chair drop", everyday.drop_into_chair, "W02 W03 W04 W06"),
    Row("lie down", everyday.lie_down, "W01 W07"),
    Row("crouch", everyday.crouch, "W03 W06"),
    Row("step off stool", everyday.step_off_stool, "W04 W08"),
    Row("jump down", everyday.jump_down, "W01 W05"),
    Row("jog", everyday.jog_to_the_gate, "W03 W05 W07"),
    Row("stumble", everyday.stumble, "W06 W08"),
    Row("hang washing", everyday.hang_washing, "W02"),
    Row("lounger drop", everyday.drop_into_lounger, "W02 W07"),
    Row("jump and kneel", everyday.jump_and_kneel, "W05"),
    Row("device on bed", everyday.throw_device_on_bed, "W06"),
    Row("bed flop", everyday.flop_onto_bed, "W04"),
    Row("leap and tie shoe", everyday.leap_and_tie_shoe, "W01"),
)

OUTINGS = (
    Row("morning", outings.morning, "W03", "free-living"),
    Row("afternoon", outings.afternoon, "W06", "free-living"),
)

ROWS = FALLS + OTHERS + OUTINGS


def recordings_planned() -> int:
    """How many recordings the plan makes."""
    return sum(len(row.wearers.split()) for row in ROWS)
