"""Two long recordings of an ordinary half day: mostly unlabelled, as free living is."""

from __future__ import annotations

from collections.abc import Callable

from data.demo import everyday, falls
from data.demo.motion import jog, rest, stir, turn, walk, work
from data.demo.scene import UPRIGHT, Scene, lean
from data.demo.tumble import LAWN

Script = Callable[[Scene, str], None]

OUTING_MINUTES = 142.0


def sit_about(scene: Scene) -> None:
    """A few minutes on a chair: reading, leaning over, drinking."""
    rng = scene.rng
    turn(scene, lean(26), 0.8, -0.12)
    turn(scene, lean(-rng.uniform(8, 22), rng.uniform(-4, 4)), 1.0, -0.28, 0.06)
    for _ in range(int(rng.integers(3, 9))):
        rest(scene, rng.uniform(20, 70), unrest=1.3)
        stir(scene, rng.uniform(1.5, 4), 0.04, 5)
    turn(scene, lean(34), 0.8, 0.10)
    turn(scene, lean(2), 1.0, 0.30, 0.06)


def stand_about(scene: Scene) -> None:
    rng = scene.rng
    for _ in range(int(rng.integers(2, 6))):
        turn(scene, lean(rng.uniform(-2, 6), rng.uniform(-4, 4)), 0.8)
        rest(scene, rng.uniform(6, 25), unrest=2.2)
        stir(scene, rng.uniform(2, 8), 0.05, 6)


def go_somewhere(scene: Scene) -> None:
    rng = scene.rng
    for _ in range(int(rng.integers(1, 5))):
        walk(scene, rng.uniform(6, 40), pace=rng.uniform(0.8, 1.08))
        stir(scene, rng.uniform(1, 4), 0.04, 5)


def work_in_the_garden(scene: Scene) -> None:
    rng = scene.rng
    job = int(rng.integers(4))
    for _ in range(int(rng.integers(2, 6))):
        if job == 0:
            work(scene, rng.uniform(15, 40), rng.uniform(0.55, 0.75), 12, 0.20, 7)
        elif job == 1:
            work(scene, rng.uniform(15, 40), rng.uniform(0.3, 0.4), 20, 0.22, 10, lean(24), 0.4)
        elif job == 2:
            walk(scene, rng.uniform(15, 40), 0.9, 0.85, posture=lean(11), rumble_g=0.06)
        else:
            turn(scene, lean(40), 1.2, -0.45, 0.09)
            work(scene, rng.uniform(20, 50), 0.5, 7, 0.06, 9, lean(46))
            turn(scene, lean(3), 1.3, 0.45, 0.08)
        walk(scene, rng.uniform(2, 6), pace=0.8)
        rest(scene, rng.uniform(2, 10), unrest=2.2)


def lie_about(scene: Scene) -> None:
    rng = scene.rng
    turn(scene, lean(22), 0.9, -0.15)
    turn(scene, lean(-16), 1.2, -0.25)
    turn(scene, lean(-75, rng.uniform(-8, 8)), 2.4, -0.05, 0.06)
    for _ in range(int(rng.integers(2, 6))):
        rest(scene, rng.uniform(60, 140))
        stir(scene, rng.uniform(1.5, 3), 0.06, 7)
    turn(scene, lean(-20), 2.2, 0.05, 0.07)
    turn(scene, lean(30), 1.0, 0.10)
    turn(scene, lean(2), 1.1, 0.30, 0.06)


def run_for_the_phone(scene: Scene) -> None:
    jog(scene, scene.rng.uniform(4, 9), scene.rng.uniform(2.5, 2.8))
    stir(scene, scene.rng.uniform(15, 60), 0.03, 5)


BOUTS = (sit_about, stand_about, go_somewhere, work_in_the_garden, lie_about, run_for_the_phone)
SHARES = (0.27, 0.22, 0.22, 0.20, 0.06, 0.03)


def unnoted(script: Script) -> Script:
    """The same, but nobody wrote it down: what happens in it carries no label."""
    def run(scene: Scene, name: str) -> None:
        noted = len(scene.labels)
        script(scene, name)
        del scene.labels[noted:]
    return run


def trip_at_the_kerb(scene: Scene, name: str) -> None:
    falls.trip(scene, name, "forward", LAWN)


Timetable = tuple[tuple[float, str, Script], ...]

MORNING: Timetable = (
    (9, "rake leaves", everyday.rake),
    (21, "stairs", everyday.climb_stairs),
    (33, "", unnoted(everyday.jump_down)),
    (44, "wheelbarrow", everyday.push_wheelbarrow),
    (58, "", unnoted(everyday.drop_into_lounger)),
    (74, "kerb forward", trip_at_the_kerb),
    (92, "sit and get up", everyday.sit_and_get_up),
    (110, "", unnoted(everyday.throw_device_on_bed)),
    (126, "water the beds", everyday.water),
)
AFTERNOON: Timetable = (
    (7, "mow the lawn", everyday.mow),
    (19, "", unnoted(everyday.drop_into_chair)),
    (31, "dig", everyday.dig),
    (47, "", unnoted(everyday.flop_onto_bed)),
    (63, "jog to the gate", everyday.jog_to_the_gate),
    (79, "stairs", everyday.climb_stairs),
    (95, "", unnoted(everyday.jump_and_kneel)),
    (112, "kneel and weed", everyday.kneel_and_weed),
    (129, "", unnoted(everyday.drop_into_chair)),
)


def live(scene: Scene, timetable: Timetable) -> None:
    """Live on, with what the timetable has at its minute; in between whatever comes."""
    ahead = list(timetable)
    while scene.now_s < OUTING_MINUTES * 60:
        if ahead and scene.now_s >= ahead[0][0] * 60:
            _, name, script = ahead.pop(0)
            scene.up = UPRIGHT
            everyday.stand(scene)
            script(scene, name)
            everyday.stand(scene)
        else:
            BOUTS[scene.rng.choice(len(BOUTS), p=SHARES)](scene)


def morning(scene: Scene, name: str) -> None:
    live(scene, MORNING)


def afternoon(scene: Scene, name: str) -> None:
    live(scene, AFTERNOON)
