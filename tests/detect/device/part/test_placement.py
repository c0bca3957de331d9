"""What a place adds, by hand, and against the toppling rod and the rigid body of the mounting model."""

from __future__ import annotations

import numpy as np
import pytest

from detect.device.part.mounting import off_centre_g, steady_turn, toppling
from detect.device.part.placement import HEIGHT, swings
from detect.device.quantity_table import device_values


def test_a_place_adds_what_the_toppling_rod_reads_there():
    """√(3² + 1.5²) = 3.354 g at the top of a rod; of the waist's 0.60 of it 2.012 g, of the neck's 0.82 2.750 g."""
    found = {one.place: one for one in swings(device_values())}
    assert found["waist"].impact_g == pytest.approx(2.012, abs=1e-3)
    assert found["neck"].impact_g == pytest.approx(2.750, abs=1e-3)
    rates, changes = toppling(2000, 1800, "y", 90.0, 1.7, 200.0)
    for place, share in HEIGHT.items():
        added = off_centre_g(rates, (0.0, 0.0, share * 1.7), 200.0, changes)[1800]
        assert found[place].impact_g == pytest.approx(np.linalg.norm(added), rel=5e-3)


def test_a_quick_move_of_an_arm_is_no_small_thing_and_that_of_a_trunk_is():
    """10 rad/s at 0.332 · 1.7 m are 56.4 m/s², 5.75 g; 2 rad/s at (0.82 − 0.53) · 1.7 m are 1.97 m/s², 0.20 g."""
    found = {one.place: one for one in swings(device_values())}
    assert found["wrist"].move_g == pytest.approx(5.755, abs=0.01)
    assert found["neck"].move_g == pytest.approx(0.2025, abs=2e-3)
    turned = off_centre_g(steady_turn(50, "z", 573.0), (0.332 * 1.7, 0.0, 0.0), 50.0)[25]
    assert found["wrist"].move_g == pytest.approx(np.linalg.norm(turned), rel=1e-6)
    still = swings(device_values({"placement.arm_dps": 0.0, "placement.bend_dps": 0.0}))
    assert {one.move_g for one in still} == {0.0}
