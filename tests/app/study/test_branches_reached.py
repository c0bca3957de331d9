"""How many branches of each reader the damaged files of the standing fuzz reach, valid ones among them."""

from __future__ import annotations

import random
from importlib import import_module

import pytest

from tests.app.study.test_readers_fuzzed import files, memory, of_kind, refused
from tests.branches import BranchesTaken
from tests.fuzzed import mutated

__all__ = ["files", "memory"]

READERS = {
    "tables": ("data.formats.text", "data.formats.text_layout", "data.formats.text_tables", "data.formats.sheet",
               "data.formats.preamble", "data.formats.column_names", "data.formats.joined_files",
               "data.formats.identity_columns", "data.formats.row_choice", "data.recordings.reading",
               "data.recordings.lines_above", "data.timing.stamps", "data.timing.time_base"),
    "labels": ("data.labels.table", "data.labels.row_owners", "data.labels.kinds"),
    "recipes": ("data.recipe.parser", "data.recipe.recipe", "data.recipe.name_pattern", "data.plain_values"),
    "study": ("data.study.study_file", "app.study.storage.study_files"),
    "header": ("detect.firmware.header.reader",),
    "dump": ("detect.firmware.twins.dump",),
}
NO_READERS = ("write_events", "_cell", "_seconds", "write_recipe", "read_recipe", "setting", "tables", "line_of",
              "_skip", "_inside", "maybe_number", "maybe_whole", "inert", "known_encoding")
"""Functions of these files that write, or that others read with."""

FLOORS = {"tables": 0.70, "labels": 0.90, "recipes": 0.90, "study": 0.22, "header": 0.67, "dump": 0.77}
"""Shares that are reached at least. Of study and header the writers beside the readers count too."""

INPUTS = {"tables": 2500, "study": 600}


@pytest.mark.slow
@pytest.mark.parametrize("kind", list(READERS))
def test_the_fuzz_reaches_the_branches_of_its_reader(kind, files, memory):
    taken = BranchesTaken([import_module(name) for name in READERS[kind]], NO_READERS)
    seeds, reader = of_kind(kind, files, memory)
    rng = random.Random(3)
    with taken:  # a trace that is out of stack is switched off, so none of the inputs nests deeply
        for seed in seeds:
            for _ in range(6):
                refused(seed, rng, reader)
        for _ in range(INPUTS.get(kind, 3000)):
            refused(mutated(rng, seeds), rng, reader)
    print(f"{kind}: {taken.share:.1%} of {len(taken.every)} branches")
    assert taken.share >= FLOORS[kind], "\n".join(taken.missed())
