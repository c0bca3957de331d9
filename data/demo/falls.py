"""The falls: short scripts of pieces. Each labels what it stages; the plan says who falls how, and how
often.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from data.demo.motion import jerks, rest, stir, thrash, turn, walk, work
from data.demo.scene import ON_BACK, ON_FRONT, ON_LEFT, ON_RIGHT, RATE_HZ, UPRIGHT, Scene, Vector, lean
from data.demo.tumble import (
    FLOOR,
    HEAP,
    LAWN,
    PAVING,
    SEAT,
    SOFT_KNEES,
    SOIL,
    Ground,
    fly,
    get_up,
    land,
    let_go,
    sink,
    stub,
    topple,
)


@dataclass(frozen=True)
class Way:
    """A way of falling, angles in degrees: lean at landing and at rest, and the direction one goes over in.

    Nobody lands flat: hip and shoulder take it at a slant, a little different every time.
    """

    lands: tuple[float, float]
    """Forward, to the left."""
    stays: Vector
    heading: float
    """0 is forward, 90 to the left."""

    def landing(self, scene: Scene) -> Vector:
        forward, left = self.lands
        return lean(forward + scene.rng.normal(0, 5), left + scene.rng.normal(0, 6))

    def towards(self, scene: Scene) -> Vector:
        angle = math.radians(self.heading + scene.rng.normal(0, 8))
        return np.array([math.sin(angle), 0.0, math.cos(angle)])


WAYS = {
    "forward": Way((50, -30), ON_FRONT, -36),
    "back": Way((-50, 32), ON_BACK, 148),
    "left": Way((-22, 55), ON_LEFT, 62),
    "right": Way((24, -56), ON_RIGHT, -118),
}


def approach(scene: Scene) -> None:
    """What went before: a job with the arms or standing about, then some steps."""
    rng = scene.rng
    if rng.random() < 0.5:
        work(scene, rng.uniform(4, 8), rng.uniform(0.55, 0.8), 8, 0.15)
    else:
        rest(scene, rng.uniform(3, 7), unrest=2.0)
    scene.up = UPRIGHT
    walk(scene, rng.uniform(6, 11), pace=rng.uniform(0.85, 1.0), halts="start")


def stand_on_it(scene: Scene) -> None:
    """Walk up, climb, stand and reach."""
    rng = scene.rng
    walk(scene, rng.uniform(5, 8))
    turn(scene, lean(12), 0.9, 0.25, 0.08)
    turn(scene, lean(3), 0.8, 0.20, 0.06)
    stir(scene, rng.uniform(4, 8), 0.03, 4)


def aftermath(scene: Scene, stays: Vector) -> None:
    """Roll on, lie dazed, get up, walk it off."""
    rng = scene.rng
    turn(scene, stays, rng.uniform(0.4, 0.65), effort_g=0.05)
    rest(scene, rng.uniform(7, 15))
    get_up(scene)
    recover(scene)


def recover(scene: Scene) -> None:
    rest(scene, scene.rng.uniform(2, 5), unrest=2.0)
    walk(scene, scene.rng.uniform(5, 9), pace=0.85, vigour=0.9)


def drop(scene: Scene, name: str, way: str, low_m: float, high_m: float, ground: Ground) -> None:
    """Lose one's footing at an edge and drop freely onto hip or side."""
    through = WAYS[way]
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene, scene.rng.uniform(0.16, 0.28))
        land(scene, fly(scene, scene.rng.uniform(low_m, high_m), through.landing(scene)), ground)
    aftermath(scene, through.stays)


def drop_from_stand(scene: Scene, name: str, way: str, low_m: float, high_m: float, ground: Ground) -> None:
    """The same from a stool or a ladder, after a while of standing on it."""
    through = WAYS[way]
    stand_on_it(scene)
    with scene.happens("fall", name):
        let_go(scene, 0.24)
        land(scene, fly(scene, scene.rng.uniform(low_m, high_m), through.landing(scene)), ground)
    aftermath(scene, through.stays)


def drop_from_bed(scene: Scene, name: str, way: str, ground: Ground) -> None:
    """Sit on the edge of a bed, slide off and drop onto the floor."""
    rng = scene.rng
    through = WAYS[way]
    turn(scene, lean(-12), 1.5, -0.35, 0.05)
    rest(scene, rng.uniform(10, 18), unrest=1.5)
    stir(scene, rng.uniform(2, 3), 0.03, 4)
    with scene.happens("fall", name):
        let_go(scene, 0.16)
        land(scene, fly(scene, rng.uniform(0.32, 0.42), through.landing(scene)), ground)
    aftermath(scene, through.stays)


def trip(scene: Scene, name: str, way: str, ground: Ground) -> None:
    """Walk into a kerb: the feet stay, the body goes over them like a rod."""
    through = WAYS[way]
    approach(scene)
    with scene.happens("fall", name):
        stub(scene, scene.rng.uniform(0.7, 1.3))
        start_deg, start_radps = scene.rng.uniform(7, 11), scene.rng.uniform(0.5, 0.9)
        end_deg, length = scene.rng.uniform(76, 82), scene.rng.uniform(0.56, 0.70)
        land(scene, topple(scene, through.towards(scene), start_deg, start_radps, end_deg, length), ground)
    aftermath(scene, through.stays)


def faint(scene: Scene, name: str, way: str) -> None:
    """Stand, sag at the knees, go over: a short rod, slow at first."""
    through = WAYS[way]
    stand_on_it(scene)
    rest(scene, scene.rng.uniform(4, 8))
    with scene.happens("fall", name):
        start_deg, end_deg = scene.rng.uniform(5, 8), scene.rng.uniform(76, 82)
        land(scene, topple(scene, through.towards(scene), start_deg, 0.25, end_deg, 0.60), LAWN)
    aftermath(scene, through.stays)


def crumple(scene: Scene, name: str, way: str) -> None:
    """Miss the last step, land on the feet, crumple and go over: a second, bigger impact follows the first."""
    through = WAYS[way]
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, scene.rng.uniform(0.16, 0.20), lean(14)), Ground(((1.0, 0.0, 0.20),), 0.02))
        land(scene, topple(scene, through.towards(scene), 12, 0.9, 80, 0.70), PAVING)
    aftermath(scene, through.stays)


# The hard ones: each is chosen for one way in which a threshold rule goes wrong. See data/demo/plan.py.


def slide_down(scene: Scene, name: str) -> None:
    """Slide down a wall with the back against it: four fifths of the weight are carried all the way."""
    approach(scene)
    turn(scene, lean(-8), 1.0)
    rest(scene, 3.0)
    with scene.happens("fall", name):
        land(scene, sink(scene, 0.60, 0.80, lean(-30)), SEAT)
    turn(scene, lean(-35, 50), 0.7)
    rest(scene, 11.0)
    get_up(scene)
    recover(scene)


def slip_through_the_hand(scene: Scene, name: str) -> None:
    """Sag while holding the rail; the hand slips off only for the last hundredths of a second."""
    approach(scene)
    with scene.happens("fall", name):
        held = sink(scene, 0.38, 0.76, lean(-30, 20))
        land(scene, fly(scene, 0.015, lean(-33, 23), 0.0, held.speed_mps), PAVING)
    aftermath(scene, ON_BACK)


def into_the_heap(scene: Scene, name: str, height_m: float = 0.18, ground: Ground = HEAP) -> None:
    """Tip backwards into loose compost, which gives way by the length of an arm; or into leaves, which give way less.
    """
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, height_m, lean(-55)), ground)
    aftermath(scene, lean(-72, 8))


def stagger(scene: Scene, name: str) -> None:
    """Miss a low step, be caught by soft knees, stagger on and sink to the ground only then."""
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, 0.055, lean(16)), SOFT_KNEES)
        stagger_on = round(1.1 * RATE_HZ)
        scene.add(scene.up + jerks(scene.rng, stagger_on, 0.09))
        land(scene, sink(scene, 0.50, 0.75, lean(52, 14)), PAVING)
    aftermath(scene, ON_FRONT)


def writhe(scene: Scene, name: str) -> None:
    """Fall off the porch and thrash about in pain instead of lying still."""
    through = WAYS["back"]
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, 0.48, through.landing(scene)), LAWN)
    turn(scene, through.stays, 0.5)
    thrash(scene, 9.0)
    rest(scene, 6.0, unrest=2.0)
    get_up(scene)
    recover(scene)


def miss_the_seat(scene: Scene, name: str) -> None:
    """Sit down beside the garden chair and stay sitting on the lawn: the trunk never lies."""
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene, 0.24)
        land(scene, fly(scene, 0.38, lean(-14)), LAWN)
    turn(scene, lean(-18, 6), 0.6)
    rest(scene, 9.0)
    turn(scene, lean(30), 1.6, 0.35, 0.08)
    turn(scene, lean(3), 0.9, 0.10, 0.06)
    recover(scene)


def pitch_over_weeding(scene: Scene, name: str) -> None:
    """Bent low over a bed for a while, then head first into it: before and after look alike."""
    bent = lean(70)
    walk(scene, 8.0)
    turn(scene, bent, 1.6, -0.10)
    work(scene, 14.0, 0.5, 4, 0.05, posture=bent)
    with scene.happens("fall", name):
        let_go(scene, 0.18)
        land(scene, fly(scene, 0.34, lean(82)), SOIL)
    aftermath(scene, ON_FRONT)


def logger_stops_early(scene: Scene, name: str) -> None:
    """Fall, roll over and over, and the recording ends before the rule has watched for its two seconds."""
    through = WAYS["left"]
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, 0.44, through.landing(scene)), LAWN)
        thrash(scene, 1.5, 0.5)


def logger_stops_at_once(scene: Scene, name: str) -> None:
    """The recording ends just after the impact: nothing was observed, so nothing speaks against a fall."""
    through = WAYS["right"]
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, 0.46, through.landing(scene)), LAWN)
        turn(scene, through.stays, 0.2)


def plug_comes_loose(scene: Scene, name: str) -> None:
    """The logger's plug comes loose in the air: the recording ends before the ground is reached."""
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        fly(scene, 0.40, lean(-50))


def fall_twice(scene: Scene, name: str) -> None:
    """Fall, try to get up at once and fall again while the rule is still deaf after its alarm."""
    through = WAYS["back"]
    approach(scene)
    with scene.happens("fall", name):
        let_go(scene)
        land(scene, fly(scene, 0.45, through.landing(scene)), LAWN)
    turn(scene, through.stays, 0.4)
    rest(scene, 3.2)
    turn(scene, lean(45), 1.3, 0.30, 0.08)
    turn(scene, lean(8), 0.9, 0.40, 0.08)
    with scene.happens("fall", f"{name} again"):
        land(scene, topple(scene, WAYS["left"].towards(scene), 10, 0.7, 80, 0.70), FLOOR)
    aftermath(scene, ON_LEFT)
