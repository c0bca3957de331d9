"""Programs of other people that tests hold ours against give what is published themselves."""

from __future__ import annotations

import allantools
import numpy as np
import pytest


@pytest.mark.parametrize(("data_type", "deviation"), [("freq", 91.22945), ("phase", 122.64)])
def test_allantools_gives_what_nist_tabulates(data_type, deviation):
    # NIST Special Publication 1065, Handbook of Frequency Stability Analysis, nine-point set, τ = 1; taken as phase by
    # mistake it would be the other value.
    nine = np.array([892, 809, 823, 798, 671, 644, 883, 903, 677], dtype=float)
    found = allantools.adev(nine, rate=1.0, data_type=data_type, taus=[1.0])[1]
    assert found == pytest.approx([deviation], abs=5e-3 if data_type == "phase" else 5e-6)
