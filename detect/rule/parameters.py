"""The one table of parameters: range of the slider, bounds, default, words, integers, what a search may try.

Panel, command line, search, map, header, bounds, Rule and the C's settings follow. Adding a parameter is one row here,
`python -m detect.firmware.header.generated` for what is written out of it in C and in Rule, and its effect in the rule.
"""

from __future__ import annotations

from detect.rule.parameter_row import (
    ALWAYS,
    COSINE_ONE,
    LARGEST_THRESHOLD,
    LONGEST_WAIT,
    LONGEST_WINDOW,
    OFF_HIGHEST,
    OFF_LOWEST,
    Integer,
    Parameter,
    Tuning,
    Unit,
    checked,
)

G, MS, DEG, PCT, SWITCH, CHOICE, VECTOR = (Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT, Unit.SWITCH, Unit.CHOICE,
                                           Unit.VECTOR)

CLOSE, FOURTH_ROOT, ROOT = 1.05, 2 ** (1 / 4), 2 ** (1 / 2)
"""Ratios between coarse levels. All peaks of impacts lie within a factor of two or three, so theirs are closest."""
TURN, TENTH = 7.5, 10.0
"""Differences between coarse levels, in degrees and in percent."""


def _threshold(field: str, letter: str) -> tuple[Integer, ...]:
    return (Integer(field, f"{field}_counts", 1, LARGEST_THRESHOLD, letter),)


def _window(field: str, letter: str, member: str = "", least: int = 1,
            most: int = LONGEST_WINDOW) -> tuple[Integer, ...]:
    return (Integer(field, member or f"{field}_samples", least, most, letter),)


def _flag(field: str, member: str = "") -> tuple[Integer, ...]:
    return (Integer(field, member or field, 0, 1),)


def _cosine(field: str, letter: str) -> tuple[Integer, ...]:
    return (Integer(field, f"{field}_q14", -COSINE_ONE, COSINE_ONE, letter),)


# Defaults: a common starting point for a waist-worn device, from memory, tuned by nobody. An alarm later than five
# seconds after the impact helps nobody, and recordings that end soon after it would be judged early: so a search keeps
# settle and observe short. The pre-filter is the sensor's business, hold-off and upright the device's.
PARAMETERS: tuple[Parameter, ...] = checked((
    Parameter("prefilter_samples", "front_end", CHOICE, needs=ALWAYS, default=1,
              title="pre-filter", spoken="pre-filter",
              sentence="Every sample is the mean of this many raw ones.",
              choices=(1, 2, 4, 8, 16), integers=(Integer("prefilter", "prefilter_samples", 1, 16, "L"),)),
    Parameter("free_fall_on", "free_fall", SWITCH, needs=ALWAYS, default=True, title="Free fall", spoken="free fall",
              sentence="An attempt begins with free fall. Off: it begins with any impact.",
              integers=_flag("free_fall_on")),
    Parameter("free_fall_rule", "free_fall", CHOICE, needs="free_fall_on", default="magnitude",
              title="rule", spoken="free fall rule",
              sentence="What must be low: the magnitude, or every axis by itself as a sensor's own free-fall line has "
                       "it.",
              choices=("magnitude", "every_axis"), integers=_flag("every_axis", "free_fall_every_axis")),
    Parameter("free_fall_g", "free_fall", G, needs="free_fall_on", default=0.60,
              title="below", spoken="free fall below",
              sentence="Lower than this, the wearer is in free fall.",
              integers=_threshold("free_fall", "F"), low=0.05, high=1.0, step=0.05,
              tuning=Tuning(0.2, 0.9, FOURTH_ROOT, turn=2, off=OFF_HIGHEST)),
    Parameter("free_fall_ms", "free_fall", MS, needs="free_fall_on", default=60,
              title="for at least", spoken="free fall for at least",
              sentence="Low without a break for at least this long.",
              integers=_window("free_fall_run", "Nf", "free_fall_samples"), low=1, high=1000, step=20,
              tuning=Tuning(20, 300, ROOT, turn=5)),
    Parameter("impact_g", "impact", G, needs=ALWAYS, default=2.0, title="at least", spoken="impact at least",
              sentence="At least this, the wearer has hit something.",
              integers=_threshold("impact", "I"), low=1.0, high=16.0, step=0.25,
              tuning=Tuning(1.25, 16.0, CLOSE, turn=1)),
    Parameter("impact_within_ms", "impact", MS, needs="free_fall_on", default=1000,
              title="within", spoken="impact within",
              sentence="The impact comes this soon after the last sample of free fall.",
              integers=_window("impact_within", "W", most=LONGEST_WAIT), low=10, high=5000, step=100,
              tuning=Tuning(200, 2000, ROOT, turn=5)),
    Parameter("settle_ms", "impact", MS, needs=ALWAYS, default=1000, title="settle", spoken="settle",
              sentence="Bounces after the impact are waited out for this long.",
              integers=_window("settle", "S"), low=10, high=5000, step=100, tuning=Tuning(100, 2000, ROOT, turn=3)),
    Parameter("restart_on", "impact", SWITCH, needs=ALWAYS, default=True,
              title="Restart on a bigger one", spoken="restart on a bigger one",
              sentence="A bigger impact while settling or observing starts the wait anew.",
              integers=_flag("restart_on")),
    Parameter("observe_ms", "afterwards", MS, needs=ALWAYS, default=2000, title="observe", spoken="observe",
              sentence="Posture and stillness afterwards are measured over this long.",
              integers=_window("observe", "N"), low=10, high=10000, step=250, tuning=Tuning(250, 3000, ROOT, turn=3)),
    Parameter("tilt_on", "afterwards", SWITCH, needs=ALWAYS, default=True, title="Tilt change", spoken="tilt change",
              sentence="The mean direction afterwards must differ from the one before.",
              integers=_flag("tilt_on")),
    Parameter("tilt_deg", "afterwards", DEG, needs="tilt_on", default=45.0, title="at least", spoken="tilt at least",
              sentence="The wearer has turned by at least this angle.",
              integers=_cosine("tilt_cosine", "C(θ)"), low=0, high=180, step=5,
              tuning=Tuning(10, 90, TURN, turn=2, off=OFF_LOWEST)),
    Parameter("baseline_ms", "afterwards", MS, needs="tilt_on", default=1000, title="baseline", spoken="baseline",
              sentence="The direction before is the mean over this long.",
              integers=_window("baseline", "B"), low=10, high=5000, step=250, tuning=Tuning(100, 2000, ROOT, turn=3)),
    Parameter("reclined_on", "afterwards", SWITCH, needs=ALWAYS, default=False, title="Reclined", spoken="reclined",
              sentence="The wearer must lie: the mean afterwards is far from the upright reading.",
              integers=_flag("reclined_on")),
    Parameter("reclined_deg", "afterwards", DEG, needs="reclined_on", default=60.0,
              title="at least", spoken="reclined at least",
              sentence="Lying means at least this far from upright.",
              integers=_cosine("reclined_cosine", "C(φ)"), low=0, high=180, step=5,
              tuning=Tuning(10, 90, TURN, off=OFF_LOWEST)),
    Parameter("upright", "afterwards", VECTOR, needs="reclined_on", default=(0.0, 1.0, 0.0),
              title="upright", spoken="upright",
              sentence="What the sensor reads on an upright wearer at rest.",
              integers=tuple(
                  Integer("upright", f"upright_{axis}_counts", -COSINE_ONE, COSINE_ONE, "u", axis=i,
                          array="upright_counts") for i, axis in enumerate("xyz")),
              low=-1.0, high=1.0, step=0.05),
    Parameter("still_on", "afterwards", SWITCH, needs=ALWAYS, default=True, title="Still", spoken="still",
              sentence="The wearer must lie still afterwards.",
              integers=_flag("still_on")),
    Parameter("still_g", "afterwards", G, needs="still_on", default=0.15, title="below", spoken="still below",
              sentence="Movement about the mean is at most this, root mean square.",
              integers=_threshold("still", "r"), low=0.01, high=2.0, step=0.05,
              tuning=Tuning(0.05, 2.0, FOURTH_ROOT, turn=2, off=OFF_HIGHEST)),
    Parameter("guard_ms", "before", MS, needs=ALWAYS, default=500, title="guard", spoken="guard",
              sentence="This long just before the fall, the stumble, is left out of what counts as before.",
              integers=_window("guard", "G", least=0), low=0, high=5000, step=100,
              tuning=Tuning(100, 2000, ROOT, turn=3)),
    Parameter("active_on", "before", SWITCH, needs=ALWAYS, default=False,
              title="Active before", spoken="active before",
              sentence="Reject what follows vigorous movement, as in jogging.",
              integers=_flag("active_on")),
    Parameter("active_band_g", "before", G, needs="active_on", default=0.30, title="band", spoken="active band",
              sentence="A sample is active outside 1 g ± this.",
              integers=(
                  Integer("active_low", "active_low_counts", 0, LARGEST_THRESHOLD, "lo", offset=1.0, factor=-1.0),
                  Integer("active_high", "active_high_counts", 1, LARGEST_THRESHOLD, "hi", offset=1.0)),
              low=0.05, high=2.0, step=0.05, tuning=Tuning(0.1, 1.0, FOURTH_ROOT, turn=4)),
    Parameter("active_window_ms", "before", MS, needs="active_on", default=2000,
              title="window", spoken="active window",
              sentence="Active samples are counted over this long before the guard.",
              integers=_window("active_window", "M"), low=10, high=10000, step=250,
              tuning=Tuning(500, 4000, ROOT, turn=4)),
    Parameter("active_share_pct", "before", PCT, needs="active_on", default=50.0, title="share", spoken="active share",
              sentence="At most this share of them may be active.",
              integers=_window("active_most", "m", least=0), low=0, high=100, step=5, share_of="active_window_ms",
              tuning=Tuning(10, 90, TENTH, turn=2, off=OFF_HIGHEST)),
    Parameter("hold_off_ms", "alarm", MS, needs=ALWAYS, default=10000, title="hold-off", spoken="hold-off",
              sentence="No attempt begins for this long after an alarm.",
              integers=_window("hold_off", "H", most=LONGEST_WAIT), low=10, high=60000, step=1000,
              tuning=Tuning(10, 60000, ROOT)),
))
