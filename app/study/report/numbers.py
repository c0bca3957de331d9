"""The device's numbers behind a section: a table with where each comes from, and those that nobody checked."""

from __future__ import annotations

from collections.abc import Sequence

from app.formatting import GAP, plural
from app.study.report.page import Table
from app.study.state import Study
from detect.device.quantities import FROM_MEMORY, Plain


def table(key: str, study: Study, prefixes: Sequence[str]) -> Table:
    values = study.device
    rows = []
    for name in _names(study, prefixes):
        row = values.row(name)
        origin = f"set for this study; starts at {_said(row.default)}" if name in values.given else row.origin
        rows.append((row.title, f"{_said(values[name])}{GAP}{row.unit}".strip(), name, origin))
    return Table(key, "Numbers it stands on", ("number", "value", "key", "where it comes from"), tuple(rows), (1,))


def unverified(study: Study, prefixes: Sequence[str]) -> tuple[str, ...]:
    """One sentence on the numbers still at their starting values; none where every one was set."""
    names = _names(study, prefixes)
    untouched = [study.device.row(name) for name in names if name not in study.device.given]
    if not untouched:
        return ()
    recalled = sum(row.origin == FROM_MEMORY for row in untouched)
    memory = f"; {recalled} of them are from memory, without a source" if recalled else ""
    return (f"{plural(len(untouched), 'number')} of {len(names)} stand at their starting values, which nobody checked "
            f"against this device{memory}. Its table of numbers says where each comes from.",)


def _names(study: Study, prefixes: Sequence[str]) -> list[str]:
    return [name for name in study.device if name.startswith(tuple(prefixes))]


def _said(value: Plain) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:.10g}"
