"""How much of what nodes sent may be lost before somebody has to act on it."""

from __future__ import annotations

from collections.abc import Sequence

from app.study.capture.node_stream import NodeStream

USUAL_LIMIT = 0.01
"""Share of a node's samples; a choice, no source."""


def above_limit(nodes: Sequence[NodeStream], limit: float) -> tuple[str, ...]:
    """A sentence for each node that lost more than this share."""
    return tuple(f"Node {node.node} lost {100 * node.losses.share_lost:.1f} % of its samples, more than the limit of "
                 f"{100 * limit:g} %." for node in nodes if node.losses.share_lost > limit)
