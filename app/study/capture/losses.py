"""How much of what nodes sent may be lost before somebody has to act on it."""

from __future__ import annotations

from collections.abc import Sequence

from app.study.capture.node_stream import NodeStream


def above_limit(nodes: Sequence[NodeStream], limit: float) -> str:
    """Which nodes lost more than this share, in a sentence; empty for none."""
    above = [f"node {node.node} {100 * node.losses.share_lost:.1f} %" for node in nodes
             if node.losses.share_lost > limit]
    return f"Lost more than the limit of {100 * limit:g} %: {', '.join(above)}." if above else ""
