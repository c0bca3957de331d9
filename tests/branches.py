"""Which branches of some modules are taken while something runs: counted at the interpreter's own jumps.

No more than a set of pairs: a conditional jump, and where it went. Slow, as every instruction is looked at.
"""

from __future__ import annotations

import dis
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from types import CodeType, FrameType, ModuleType
from typing import Any

_Branch = tuple[CodeType, int, int]
"""The code, the jump's offset and where it leads."""


def branches_of(module: ModuleType, without: Sequence[str] = (), only: Sequence[str] = ()) -> set[_Branch]:
    """Both ways of every conditional jump in the functions of a module. `without`: functions left out; `only`: those
    that count, where it is said."""
    file = module.__file__
    assert file is not None
    with open(file, encoding="utf-8") as text:
        top = compile(text.read(), file, "exec", dont_inherit=True)
    wanted = [one for one in top.co_consts if isinstance(one, CodeType) and one.co_name in only] if only else [top]
    return {branch for code in (*(wanted if only else ()), *(each for one in wanted for each in _inner(one, without)))
            for branch in _branches(code)}


def _inner(code: CodeType, without: Sequence[str]) -> Iterator[CodeType]:
    """Functions within, to any depth; neither the module's own lines nor those of classes, which run once."""
    for one in code.co_consts:
        if isinstance(one, CodeType) and one.co_name not in without:
            if one.co_flags & 2:  # with local names of its own: a function, no body of a class
                yield one
            yield from _inner(one, without)


def _branches(code: CodeType) -> Iterator[_Branch]:
    """But for the way past the last `except` of a `try`, which is of exceptions that nobody foresaw: no input may take
    it. And but for what a `with` does of its own when an exception passes it."""
    found = list(dis.get_instructions(code))
    begins = {one.offset: one.offset for one in found}
    """Where an instruction itself is, from where those that lengthen its argument begin."""
    for one, after in reversed(list(pairwise(found))):
        if one.opname == "EXTENDED_ARG":
            begins[one.offset] = begins[after.offset]
    names = {one.offset: one.opname for one in found}
    ends_with = {after.offset for one, after in pairwise(found) if one.opname == "WITH_EXCEPT_START"}
    for one, after in pairwise(found):
        if _conditional(one) and one.offset not in ends_with:
            yield code, one.offset, begins[after.offset]
            if names[int(one.argval)] != "RERAISE":
                yield code, one.offset, begins[int(one.argval)]


def _conditional(one: dis.Instruction) -> bool:
    return one.opname == "FOR_ITER" or ("JUMP" in one.opname and "_IF_" in one.opname)


class BranchesTaken:
    """While it is entered, branches taken in the modules are noted."""

    def __init__(self, modules: Sequence[ModuleType], without: Sequence[str] = (), only: Sequence[str] = ()) -> None:
        self.every = {branch for module in modules for branch in branches_of(module, without, only)}
        self._jumps: dict[CodeType, set[int]] = {}
        for code, at, _ in self.every:
            self._jumps.setdefault(code, set()).add(at)
        self.taken: set[_Branch] = set()

    def __enter__(self) -> BranchesTaken:
        sys.settrace(self._call)
        return self

    def __exit__(self, *_: object) -> None:
        sys.settrace(None)

    def _call(self, frame: FrameType, event: str, argument: Any) -> Callable[..., Any] | None:
        jumps = self._jumps.get(frame.f_code)  # equal code of one file and place is one
        if jumps is None:
            return None
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        code, before = frame.f_code, -1

        def step(frame: FrameType, event: str, argument: Any) -> Callable[..., Any]:
            nonlocal before
            if event == "opcode":
                if before in jumps:
                    self.taken.add((code, before, frame.f_lasti))
                before = frame.f_lasti
            return step

        return step

    @property
    def share(self) -> float:
        return len(self.taken & self.every) / len(self.every)

    def missed(self) -> list[str]:
        """Where branches were never taken: file, line and function."""
        found = {f"{code.co_filename}:{_line(code, at)} {code.co_name}" for code, at, _ in self.every - self.taken}
        return sorted(found)


def _line(code: CodeType, offset: int) -> int:
    return next((line for start, end, line in code.co_lines() if start <= offset < end and line), 0)
