"""Who does what, how often: one row an activity.

What goes wrong in the demo, on purpose: the events that the default settings get wrong, or only just right.

Each stands for one way in which a threshold rule fails. The tests hold the rule's outcome to this table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from data.demo import everyday, falls, outings
from data.demo.scene import Scene
from data.demo.tumble import FLOOR, LAWN, LEAVES, PAVING, SOIL, Ground

Script = Callable[[Scene, str], None]


@dataclass(frozen=True)
class PlanRow:
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
    PlanRow("porch back", _drop("back", 0.42, 0.58, LAWN), "W01 W04 W04 W06 W08"),
    PlanRow("porch left", _drop("left", 0.40, 0.55, LAWN), "W02 W05"),
    PlanRow("porch right", _drop("right", 0.40, 0.55, LAWN), "W03 W07"),
    PlanRow("porch forward", _drop("forward", 0.42, 0.55, SOIL), "W01 W03 W05"),
    PlanRow("kerb forward", partial(falls.trip, way="forward", ground=LAWN), "W01 W02 W03 W06 W07"),
    PlanRow("kerb left", partial(falls.trip, way="left", ground=PAVING), "W04"),
    PlanRow("kerb right", partial(falls.trip, way="right", ground=LAWN), "W05 W08"),
    PlanRow("stool left", _stool("left", 0.40, 0.50, FLOOR), "W02 W06"),
    PlanRow("stool back", _stool("back", 0.42, 0.55, FLOOR), "W01 W03 W07"),
    PlanRow("path slip", _drop("back", 0.34, 0.44, PAVING), "W02 W04 W06 W08"),
    PlanRow("bed edge left", partial(falls.drop_from_bed, way="left", ground=FLOOR), "W04 W07"),
    PlanRow("bed edge right", partial(falls.drop_from_bed, way="right", ground=FLOOR), "W08"),
    PlanRow("steps crumple", partial(falls.crumple, way="forward"), "W01 W05 W06"),
    PlanRow("faint left", partial(falls.faint, way="left"), "W08"),
    PlanRow("faint back", partial(falls.faint, way="back"), "W02"),
    PlanRow("faint forward", partial(falls.faint, way="forward"), "W03"),
    PlanRow("ladder back", _stool("back", 0.85, 0.95, LAWN), "W07"),
    PlanRow("ladder left", _stool("left", 0.80, 0.90, LAWN), "W05"),
    PlanRow("wall slide", falls.slide_down, "W08"),
    PlanRow("rail slip", falls.slip_through_the_hand, "W03"),
    PlanRow("compost heap", falls.into_the_heap, "W02"),
    PlanRow("leaf heap", partial(falls.into_the_heap, height_m=0.1819, ground=LEAVES), "W05"),
    PlanRow("step stagger", falls.stagger, "W06"),
    PlanRow("porch writhe", falls.writhe, "W01"),
    PlanRow("seat miss", falls.miss_the_seat, "W07"),
    PlanRow("weeding pitch", falls.pitch_over_weeding, "W05"),
    PlanRow("porch cut early", falls.logger_stops_early, "W04"),
    PlanRow("porch cut at once", falls.logger_stops_at_once, "W02"),
    PlanRow("porch cut in the air", falls.plug_comes_loose, "W07"),
    PlanRow("porch twice", falls.fall_twice, "W03"),
)

OTHERS = (
    PlanRow("rake leaves", everyday.rake, "W01 W02 W04 W06 W08"),
    PlanRow("sweep", everyday.sweep, "W03 W07"),
    PlanRow("dig", everyday.dig, "W01 W03 W05"),
    PlanRow("wheelbarrow", everyday.push_wheelbarrow, "W02 W05 W06 W07"),
    PlanRow("mow", everyday.mow, "W04 W08"),
    PlanRow("kneel and weed", everyday.kneel_and_weed, "W02 W06 W08"),
    PlanRow("water", everyday.water, "W04 W05"),
    PlanRow("clap", everyday.applaud, "W01 W03 W08"),
    PlanRow("stairs", everyday.climb_stairs, "W02 W04 W06 W07"),
    PlanRow("sit and get up", everyday.sit_and_get_up, "W01 W05 W08"),
    PlanRow("chair drop", everyday.drop_into_chair, "W02 W03 W06"),
    PlanRow("deck chair", partial(everyday.drop_into_chair, back_deg=41), "W04"),
    PlanRow("lie down", everyday.lie_down, "W01 W07"),
    PlanRow("crouch", everyday.crouch, "W03 W06"),
    PlanRow("step off stool", everyday.step_off_stool, "W04 W08"),
    PlanRow("jump down", everyday.jump_down, "W01 W05"),
    PlanRow("jog", everyday.jog_to_the_gate, "W03 W05 W07"),
    PlanRow("stumble", everyday.stumble, "W06 W08"),
    PlanRow("hang washing", everyday.hang_washing, "W02"),
    PlanRow("lounger drop", everyday.drop_into_lounger, "W02 W07"),
    PlanRow("jump and kneel", everyday.jump_and_kneel, "W05"),
    PlanRow("device on bed", everyday.throw_device_on_bed, "W06"),
    PlanRow("bed flop", everyday.flop_onto_bed, "W04"),
    PlanRow("leap and tie shoe", everyday.leap_and_tie_shoe, "W01"),
)

OUTINGS = (
    PlanRow("morning", outings.morning, "W03", "free-living"),
    PlanRow("afternoon", outings.afternoon, "W06", "free-living"),
)

ROWS = FALLS + OTHERS + OUTINGS


def recordings_planned() -> int:
    """How many recordings the plan makes."""
    return sum(len(row.wearers.split()) for row in ROWS)


@dataclass(frozen=True)
class HardCase:
    """One event of one recording under the default settings.

    `outcome`: "missed", "caught", "false alarm", "quiet" or "unlabelled". `how`: where the rule stops, in few words.
    `event`: the label's name where the recording has several; for an unlabelled alarm, what happened unlabelled.
    """

    recording: str
    outcome: str
    how: str
    why: str
    event: str = ""


HARD_CASES: tuple[HardCase, ...] = (
    HardCase("W08 wall slide 1", "missed", "no free fall",
             "Slides down with the back against a wall, which carries four fifths of the weight."),
    HardCase("W03 rail slip 1", "missed", "free fall too short",
             "Sags on the rail; the hand slips off only for the last hundredths of a second."),
    HardCase("W02 compost heap 1", "missed", "impact too weak",
             "Free fall as it should be, into something soft: the landing stays below the threshold."),
    HardCase("W06 step stagger 1", "missed", "impact too late",
             "Misses a step, staggers on for more than a second, and only then goes down, held by the legs."),
    HardCase("W01 porch writhe 1", "missed", "not still",
             "Thrashes about after the fall."),
    HardCase("W07 seat miss 1", "missed", "no tilt",
             "Sits down beside the chair and stays sitting upright on the lawn."),
    HardCase("W05 weeding pitch 1", "missed", "no tilt",
             "Bent low before the fall and prone after it: the direction hardly changes."),
    HardCase("W04 porch cut early 1", "missed", "rejected early",
             "Rolls over; the recording ends before two seconds are observed, and what there is isn't still."),
    HardCase("W07 porch cut in the air 1", "missed", "cut off",
             "The logger's plug comes loose in the air: the impact was never recorded."),
    HardCase("W03 porch twice 1", "missed", "held off",
             "The second fall comes within the hold-off after the alarm of the first.", "porch twice again"),
    HardCase("W02 porch cut at once 1", "caught", "alarm early",
             "The recording ends before anything is observed; checks without data are skipped and pass."),
    HardCase("W01 steps crumple 1", "caught", "restart",
             "Lands on the feet, then goes over: the second, bigger impact restarts settling."),
    HardCase("W05 leaf heap 1", "caught", "impact only just",
             "Into leaves: the landing is at the threshold to a count; another device or mounting misses it."),
    HardCase("W02 lounger drop 1", "false alarm", "alarm",
             "Drops into a deep lounger and leans right back."),
    HardCase("W07 lounger drop 1", "false alarm", "alarm",
             "The same by another wearer."),
    HardCase("W05 jump and kneel 1", "false alarm", "alarm",
             "Jumps off a wall and at once bends low over a seedling."),
    HardCase("W06 device on bed 1", "false alarm", "alarm",
             "The device, taken off, is thrown onto the bed."),
    HardCase("W04 bed flop 1", "false alarm", "alarm",
             "Lets oneself fall onto the bed."),
    HardCase("W01 leap and tie shoe 1", "false alarm", "alarm",
             "Jogs, leaps over the hose and stoops at once to tie a shoe."),
    HardCase("W03 crouch 1", "quiet", "impact too weak",
             "Crouches in a hurry: light for a moment, but nothing is hit."),
    HardCase("W03 jog 1", "quiet", "not still",
             "Every stride is a short free fall and an impact; what follows is never still."),
    HardCase("W02 chair drop 1", "quiet", "no tilt",
             "Falls the last bit into a garden chair and sits."),
    HardCase("W04 deck chair 1", "quiet", "tilt only just short",
             "Leans back in a deck chair, a degree short of an alarm: a device with another offset raises it."),
    HardCase("W01 jump down 1", "quiet", "no tilt",
             "Jumps down from a wall and stands."),
    HardCase("W03 morning 1", "unlabelled", "alarm",
             "Nobody noted it: dropped into a lounger.", "lounger"),
    HardCase("W03 morning 1", "unlabelled", "alarm",
             "Nobody noted it: the device thrown onto the bed.", "device"),
    HardCase("W06 afternoon 1", "unlabelled", "alarm",
             "Nobody noted it: flopped onto the bed.", "bed"),
    HardCase("W06 afternoon 1", "unlabelled", "alarm",
             "Nobody noted it: jumped off a wall and bent low.", "jump"),
)
