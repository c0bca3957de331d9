"""What a file's name says about a recording, by a pattern such as {activity}/U{person}_R{trial}.csv."""

from __future__ import annotations

import re
from functools import cache

PARTS = ("activity", "person", "trial", "node", "placement", "part")
"""What a pattern can name. Files that differ only in their {part} are one recording, one after the other."""

_TOKEN = re.compile(r"\{([^{}]*)\}|(\*\*/?)|(\*)|([^{}*]+)|([{}])")


def pattern_fault(pattern: str) -> str:
    """What a pattern must be and isn't; empty where it is sound."""
    named = [found[1] for found in _TOKEN.finditer(pattern) if found[0].startswith("{") and found[1] is not None]
    for name in named:
        if name not in PARTS:
            return "a pattern of " + ", ".join(f"{{{part}}}" for part in PARTS) + ", * and **"
    if len(set(named)) < len(named):
        return "a pattern that names each part once"
    if any(found[5] for found in _TOKEN.finditer(pattern)):
        return "a pattern with each { closed by a }"
    return ""


def match(pattern: str, name: str) -> dict[str, str] | None:
    """The named parts in `name` (with / between folders), None where it doesn't fit.

    * and the named parts match within one folder; ** across folders, also none.
    """
    found = _compiled(pattern).fullmatch(name)
    return None if found is None else found.groupdict()


def blanked(pattern: str, name: str, part: str) -> str:
    """The name with one part left open as *: the same for all files that differ only there."""
    found = _compiled(pattern).fullmatch(name)
    if found is None or part not in found.groupdict():
        return name
    start, end = found.span(part)
    return f"{name[:start]}*{name[end:]}"


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    expression = ""
    for part, any_folders, within, literal, _ in _TOKEN.findall(pattern):
        if part:
            expression += f"(?P<{part}>[^/]+?)"
        elif any_folders:
            expression += "(?:.*/)?" if any_folders.endswith("/") else ".*"
        elif within:
            expression += "[^/]*"
        else:
            expression += re.escape(literal)
    return re.compile(expression)
