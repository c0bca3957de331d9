"""What an exported header says of the device: part, budget, what speaks against them, and their numbers. Words only."""

from __future__ import annotations

from collections.abc import Iterator

from app.study.device.budget import GROUPS, budget_view
from app.study.session import Session
from detect.device import part
from detect.device.current import WOKEN
from detect.device.values import Plain, Values


def device_lines(session: Session) -> tuple[str, ...]:
    """A line of plain text each; the same study gives the same lines."""
    study, view = session.study, budget_view(session)
    lines = [*part.header_lines(study.device, study.front_end, study.settings), f"budget: {view.headline}"]
    lines += [f"  {name}: {value} ({remark})" for name, value, remark in view.rows]
    lines += [f"  {'refused' if one.refused else 'warning'}: {one}" for one in view.against]
    return (*lines, "numbers of the budget, with where each comes from:", *_numbers(study.device))


def _numbers(values: Values) -> Iterator[str]:
    groups = (*GROUPS, "wake") if values.text("current.sleeps") == WOKEN else GROUPS
    for key, value in values.items():
        row = values.row(key)
        if row.group in groups:
            origin = f"set for this study; starts at {_said(row.default)}" if key in values.given else row.origin
            yield f"  {key} = {_said(value)} {row.unit}".rstrip() + f" ({origin})"


def _said(value: Plain) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:.10g}"
