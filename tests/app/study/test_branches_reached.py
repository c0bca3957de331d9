"""How many branches of each reader the damaged files of the standing fuzz reach, valid ones among them."""

from __future__ import annotations

import random
from importlib import import_module
from types import ModuleType

import pytest

from data.formats import text_tables
from data.recordings import reading
from tests.app.study.test_readers_fuzzed import files, memory, of_kind, refused
from tests.branches import BranchesTaken
from tests.fuzzed import mutated

__all__ = ["files", "memory"]

READERS = {
    "tables": ("data.formats.text", "data.formats.text_layout", "data.formats.text_tables", "data.formats.sheet",
               "data.formats.preamble", "data.formats.column_names", "data.formats.joined_files",
               "data.formats.identity_columns", "data.formats.row_choice", "data.recordings.reading",
               "data.recordings.lines_above", "data.timing.stamps", "data.timing.time_base"),
    "labels": ("data.labels.table", "data.labels.row_owners"),
    "recipes": ("data.recipe.parser", "data.recipe.recipe", "data.recipe.name_pattern", "data.plain_values"),
    "study": ("data.study.study_file", "app.study.storage.study_files"),
    "settings": ("app.study.storage.study_files",),
    "header": ("detect.firmware.header.reader",),
    "dump": ("detect.firmware.twins.dump",),
}
NO_READERS = ("write_events", "_cell", "_seconds", "write_recipe", "read_recipe", "setting", "tables", "line_of",
              "_skip", "_inside", "maybe_number", "maybe_whole", "inert", "without_mark", "known_encoding",
              "nodes_named")
"""Functions of these files that write, or that others read with."""

SETTINGS_OF_A_FILE = ("settings_from", "from_settings_file", "_record_in", "record_of", "_front_end", "from_header")
ONLY = {"settings": SETTINGS_OF_A_FILE}
WITHOUT = {"study": (*SETTINGS_OF_A_FILE, "save", "digest_of", "recovery_path", "_front_end_to_plain", "to_json",
                     "_compact", "_entry_to_plain", "_said", "_relative", "plain", "to_file", "_marks", "keep",
                     "plain_front_end", "is_demo", "write", "ready", "settings_plain")}
"""Of files that hold several readers, or writers beside them, the functions of this reader."""

LEAST = 0.9
"""Of the branches of every reader so many are reached."""

INPUTS = {"tables": 1800, "study": 1000}


def forget(module: ModuleType) -> None:
    """What its functions keep: a test before this one may have taken their branches already."""
    for one in vars(module).values():
        if hasattr(one, "cache_clear"):
            one.cache_clear()


@pytest.mark.slow
@pytest.mark.parametrize("kind", list(READERS))
def test_the_fuzz_reaches_the_branches_of_its_reader(kind, files, memory, monkeypatch):
    monkeypatch.setattr(text_tables, "_PIECE_BYTES", 3000)  # some of the files are long ones, then
    monkeypatch.setattr(reading, "_LONG_BYTES", 3000)
    taken = BranchesTaken([import_module(name) for name in READERS[kind]], (*NO_READERS, *WITHOUT.get(kind, ())),
                          ONLY.get(kind, ()))
    seeds, reader = of_kind(kind, files, memory)
    for module in READERS[kind]:
        forget(import_module(module))
    rng = random.Random(3)
    with taken:  # a trace that is out of stack is switched off, so none of the inputs nests deeply
        for seed in seeds:
            for _ in range(5 if len(seeds) > 100 else 6):
                refused(seed, rng, reader)
        for _ in range(INPUTS.get(kind, 3000)):
            refused(mutated(rng, seeds), rng, reader)
    print(f"{kind}: {taken.share:.1%} of {len(taken.every)} branches")
    assert taken.share >= LEAST, "\n".join(taken.missed())
