"""What a file's name says about a recording, by a pattern such as {activity}/U{person}_R{trial}.csv."""

from __future__ import annotations

import re
from functools import cache

PARTS = ("activity", "person", "trial", "node", "placement")
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
