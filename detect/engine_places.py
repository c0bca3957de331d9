"""What the engine's tables of places have in common; `engine_index.Index` says what a place is."""

from __future__ import annotations

import numpy as np

END = np.uint32(2**32 - 1)
"""Stands after each stretch in place of |v|²; higher than any, so that whatever looks ahead stops there."""

PART = 1 << 16
"""Places worked on at a time while tables are made: they fit into a processor's cache."""

SLACK = 1.5
"""How much laxer, in |v|², what is kept is than what was asked for; beyond twice that it is found anew."""
