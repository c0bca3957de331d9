"""What isn't a fall: work in the garden, steps and seats in the house, and what merely feels like a fall."""

from __future__ import annotations

import numpy as np

from data.demo.motion import clap, jog, rest, stir, turn, walk, work
from data.demo.scene import RATE_HZ, UPRIGHT, Scene, lean
from data.demo.tumble import CUSHION, FEET, SEAT, Ground, fly, land, let_go, sink, stub

BARROW = lean(11)


def stand(scene: Scene) -> None:
    """Before and after: stand about for a few seconds."""
    turn(scene, lean(scene.rng.uniform(0, 4)), 0.7)
    rest(scene, scene.rng.uniform(3, 6), unrest=2.0)


def long(scene: Scene) -> float:
    """Seconds an ordinary activity is kept up."""
    return float(scene.rng.uniform(26, 40))


def rake(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        for _ in range(3):
            work(scene, long(scene) / 3, scene.rng.uniform(0.55, 0.75), 13, 0.38, 9)
            walk(scene, 2.2, pace=0.75)


def sweep(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        work(scene, long(scene), scene.rng.uniform(0.8, 1.0), 6, 0.24, 12)


def dig(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        work(scene, long(scene), scene.rng.uniform(0.3, 0.4), 24, 0.40, 12, lean(24), bump_g=0.8)


def push_wheelbarrow(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        turn(scene, lean(38), 0.8, -0.20, 0.05)
        turn(scene, BARROW, 0.9, 0.20, 0.10)
        walk(scene, long(scene), pace=0.92, vigour=0.85, posture=BARROW, rumble_g=0.07)
        turn(scene, lean(35), 0.8, -0.20, 0.10)
        turn(scene, lean(3), 0.9, 0.20, 0.05)


def mow(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        for _ in range(3):
            walk(scene, long(scene) / 3, pace=0.80, posture=lean(9), rumble_g=0.045)
            stir(scene, 1.6, 0.05, 8)


def kneel_and_weed(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        turn(scene, lean(30), 0.9, -0.25, 0.08)
        turn(scene, lean(38), 0.8, -0.20, 0.12)
        work(scene, long(scene), 0.5, 7, 0.06, 9, lean(48))
        turn(scene, lean(28), 1.0, 0.20, 0.09)
        turn(scene, lean(3), 1.1, 0.25, 0.07)


def water(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        for _ in range(3):
            walk(scene, long(scene) / 6, pace=0.8, posture=lean(4, -6))
            turn(scene, lean(20, -9), 1.0)
            rest(scene, long(scene) / 6, unrest=2.5)
            turn(scene, lean(4, -6), 0.9)


def applaud(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        clap(scene, long(scene))


def climb_stairs(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        walk(scene, 11, pace=0.82, vigour=1.3, heel=0.7, posture=lean(12))
        stir(scene, 1.5, 0.03, 4)
        walk(scene, 10, pace=0.90, vigour=1.25, heel=1.9, posture=lean(1))
        stir(scene, 1.5, 0.03, 4)


def sit_and_get_up(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        for _ in range(2):
            turn(scene, lean(28), 0.7, -0.12)
            turn(scene, lean(-14), 1.0, -0.26, 0.06)
            rest(scene, scene.rng.uniform(7, 12), unrest=1.5)
            turn(scene, lean(34), 0.8, 0.10)
            turn(scene, lean(2), 1.0, 0.28, 0.06)
            rest(scene, 2.5, unrest=2.0)


def drop_into_chair(scene: Scene, name: str, back_deg: float = 19) -> None:
    """Let oneself fall the last bit into a garden chair, and sit in it, leaning back so far."""
    with scene.happens("other", name):
        turn(scene, lean(20), 0.6, -0.08)
        land(scene, sink(scene, 0.24, 0.42, lean(-10)), SEAT)
        turn(scene, lean(-back_deg), 0.6)
        rest(scene, scene.rng.uniform(14, 20), unrest=1.2)
        turn(scene, lean(34), 0.9, 0.12)
        turn(scene, lean(2), 1.0, 0.28, 0.06)


def lie_down(scene: Scene, name: str) -> None:
    """Onto a lounger, slowly: a large turn without an impact."""
    with scene.happens("other", name):
        turn(scene, lean(24), 0.9, -0.15)
        turn(scene, lean(-16), 1.2, -0.25)
        turn(scene, lean(-74, 3), 2.2, -0.05, 0.06)
        rest(scene, scene.rng.uniform(14, 22))
        turn(scene, lean(-20), 2.0, 0.05, 0.08)
        turn(scene, lean(30), 1.0, 0.1)
        turn(scene, lean(2), 1.1, 0.3, 0.06)


def crouch(scene: Scene, name: str) -> None:
    """Down in a hurry: light for a moment, then heavy, never an impact."""
    with scene.happens("other", name):
        for _ in range(3):
            turn(scene, lean(22), 0.62, -scene.rng.uniform(0.36, 0.40), 0.03)
            rest(scene, scene.rng.uniform(3, 5), unrest=2.0)
            turn(scene, lean(2), 1.1, 0.38, 0.06)
            rest(scene, scene.rng.uniform(2, 4), unrest=2.0)


def step_off_stool(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        turn(scene, lean(14), 0.8, 0.25, 0.07)
        turn(scene, lean(3), 0.8, 0.20, 0.05)
        stir(scene, scene.rng.uniform(9, 14), 0.03, 5)
        let_go(scene)
        land(scene, fly(scene, 0.12, lean(6)), FEET)
        turn(scene, lean(2), 0.7)
        rest(scene, 3.0, unrest=2.0)


def jump_down(scene: Scene, name: str) -> None:
    """Off a low wall onto both feet, and stand."""
    with scene.happens("other", name):
        stir(scene, scene.rng.uniform(4, 7), 0.03, 5)
        let_go(scene, 0.26)
        land(scene, fly(scene, scene.rng.uniform(0.30, 0.42), lean(14)), FEET)
        turn(scene, lean(3), 0.8, 0.15)
        rest(scene, scene.rng.uniform(3, 5), unrest=2.0)


def jog_to_the_gate(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        jog(scene, long(scene), scene.rng.uniform(2.55, 2.85))
        walk(scene, 5)


def stumble(scene: Scene, name: str) -> None:
    """Catch the foot on a hose and save oneself with two quick steps."""
    with scene.happens("other", name):
        walk(scene, 6, halts="start")
        stub(scene)
        land(scene, fly(scene, 0.06, lean(26)), Ground(((1.0, 0.0, 0.13),), 0.03))
        turn(scene, lean(12), 0.3, effort_g=0.25)
        walk(scene, 7, pace=1.1, halts="end")
        rest(scene, 3)


def hang_washing(scene: Scene, name: str) -> None:
    with scene.happens("other", name):
        for _ in range(4):
            turn(scene, lean(58), 1.0, -0.08)
            stir(scene, 1.2, 0.04, 5)
            turn(scene, lean(-6), 1.1, 0.08)
            stir(scene, scene.rng.uniform(4, 6), 0.04, 5)


# What feels like a fall. See data/demo/plan.py.


def drop_into_lounger(scene: Scene, name: str) -> None:
    """Let oneself fall into a deep lounger and lean right back."""
    with scene.happens("other", name):
        turn(scene, lean(15), 0.6, -0.08)
        land(scene, sink(scene, 0.30, 0.22, lean(-22)), CUSHION)
        turn(scene, lean(-62, 2), 0.6)
        rest(scene, scene.rng.uniform(14, 20))
        turn(scene, lean(-15), 1.4, 0.05, 0.07)
        turn(scene, lean(32), 0.9, 0.12)
        turn(scene, lean(2), 1.1, 0.30, 0.06)


def jump_and_kneel(scene: Scene, name: str) -> None:
    """Jump off the wall and go straight down to look at a seedling."""
    with scene.happens("other", name):
        stir(scene, 5, 0.03, 5)
        let_go(scene, 0.26)
        land(scene, fly(scene, 0.38, lean(18)), FEET)
        turn(scene, lean(68), 0.5, -0.12)
        rest(scene, 6)
        turn(scene, lean(25), 1.0, 0.25, 0.07)
        turn(scene, lean(2), 1.0, 0.35, 0.06)


def throw_device_on_bed(scene: Scene, name: str) -> None:
    """Unclip the device and toss it onto the bed: in the air it falls as freely as anybody."""
    with scene.happens("other", name):
        stir(scene, 3.0, 0.05, 5)
        scene.worn = False
        stir(scene, 2.0, 0.16, 12)
        let_go(scene, 0.18)
        land(scene, fly(scene, 0.55, lean(-84, 20)), Ground(((1.0, 0.0, 0.16),), 0.12))
        lie_unworn(scene, 16)
        turn(scene, lean(10, -20), 1.5, effort_g=0.12)
        stir(scene, 3.0, 0.16, 10)
        scene.worn = True
    turn(scene, UPRIGHT, 1.0, effort_g=0.1)


def lie_unworn(scene: Scene, seconds: float) -> None:
    """No breath, no tremor: only the bed."""
    scene.add(np.repeat(scene.up[None], round(seconds * RATE_HZ), axis=0))


def flop_onto_bed(scene: Scene, name: str) -> None:
    """Fall onto the bed on purpose, tired."""
    with scene.happens("other", name):
        let_go(scene, 0.22)
        land(scene, fly(scene, 0.34, lean(-58, 10)), CUSHION)
        turn(scene, lean(-82, 6), 0.5)
        rest(scene, scene.rng.uniform(14, 20))
        turn(scene, lean(-18), 1.6, 0.05, 0.08)
        turn(scene, lean(30), 1.0, 0.12)
        turn(scene, lean(2), 1.1, 0.3, 0.06)


def leap_and_tie_shoe(scene: Scene, name: str) -> None:
    """Jog, leap over the hose, and stoop at once to tie a shoe."""
    with scene.happens("other", name):
        jog(scene, 16)
        let_go(scene, 0.2)
        land(scene, fly(scene, 0.34, lean(14)), FEET)
        turn(scene, lean(72), 0.50, -0.10)
        rest(scene, 5, unrest=1.2)
        turn(scene, lean(3), 1.2, 0.2, 0.06)
