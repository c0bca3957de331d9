"""A recipe drafted from files: what is suggested stands there behind a #, with its reason, to be completed by hand."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from data.problem import Problem
from data.recipe.preview import FileHead, head_of, kinds_of, preview
from data.recipe.recipe import Recipe, recipe_to_toml
from data.recipe.structure import Suggestion
from data.recipe.suggestions import suggestions
from data.recordings.sources import find_sources

PAGE = Path(__file__).parent / "RECIPE.md"
"""What a recipe can say, for people."""

OTHERS = 6
"""So many files beside the first are looked at for their rates."""


@dataclass(frozen=True)
class Draft:
    """`text`: the recipe as TOML with comments. `recipe`: what it says once every # is taken away. `open`: what still
    has to be said then, None where the first file reads. `files`: how many it is for; `others`: those of another kind.
    """

    text: str
    recipe: Recipe
    open: Problem | None
    files: int
    others: int


def draft(paths: Sequence[Path]) -> Draft:
    """For the most frequent kind among files, and files in folders. Raises Problem where there is none to look at."""
    found = find_sources(paths, Recipe())
    if not found.sources:
        raise found.missing[0][1] if found.missing else Problem(
            "folder_empty", "No file was named that may be a recording.", "Name one, or a folder that has some.")
    names = {source.path: source.name for source in found.sources}
    kind = kinds_of(list(names))[0]
    heads = [head_of(Path(path), names[path]) for path in kind[:1 + OTHERS]]
    recipe, taken = Recipe(), list[Suggestion]()
    while len(taken) < 2 * OTHERS:
        shown = preview(heads[0], recipe)
        more = suggestions(shown, recipe, [names[path] for path in kind], heads[1:])
        if not more:
            break
        recipe = more[0].recipe
        taken.append(more[0])
    left = preview(heads[0], recipe).problem
    return Draft(_text(heads[0], recipe, taken, left, len(kind)), recipe, left, len(kind), len(names) - len(kind))


def _text(head: FileHead, recipe: Recipe, taken: Sequence[Suggestion], left: Problem | None, files: int) -> str:
    more = f" and {files - 1} more" if files > 1 else ""
    lines = [f"Drafted from {os.path.basename(head.name)}{more}. What a recipe can say: plumbfall recipe --page", ""]
    if taken:
        lines.append("Suggested, with the reason. Take the # away from the lines below that are right:")
        lines += [f"- {one.field}: {one.words}. {one.reason[:1].upper()}{one.reason[1:]}" for one in taken]
    else:
        lines.append("Nothing is suggested: the files say it themselves, or nothing can be told from them.")
    if left is not None:
        lines.append(f"Still open then: {left.message} {left.remedy}")
    said = "\n".join(f"# {_plain(line)}".rstrip() for line in lines)
    keys = re.sub(r"^(?=[^\[\n])", "# ", recipe_to_toml(recipe), flags=re.MULTILINE)
    return f"{said}\n\n{keys}" if keys else f"{said}\n"


def _plain(text: str) -> str:
    """On one line, without what a TOML comment can't hold."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
