"""Mutants of the C detector: one small change each, of the kind a slip of the hand makes. The vectors must fail on all.

Run as a program it prints what survives: python -m tests.detect.firmware.mutants
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from detect.firmware.export import CRC_C, DETECTOR_C, SENSOR_C, SETTINGS_C, VECTORS_TEST_C, lay, source, write_export
from detect.firmware.header.writer import Provenance
from detect.firmware.twins.detector import find_compiler
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS

# Operator: a pattern, and what takes the place of what it finds.
SWAPS = (
    ("a bound in or out", r"<=", ("<",)),
    ("a bound in or out", r">=", (">",)),
    ("a bound in or out", r"(?<![<>\-])<(?![<=])", ("<=",)),
    ("a bound in or out", r"(?<![<>\-])>(?![>=])", (">=",)),
    ("the other way round", r"<=", (">",)),
    ("the other way round", r">=", ("<",)),
    ("the other way round", r"(?<![<>\-])<(?![<=])", (">=",)),
    ("the other way round", r"(?<![<>\-])>(?![>=])", ("<=",)),
    ("equal or not", r"==", ("!=",)),
    ("equal or not", r"!=", ("==",)),
    ("and, or", r"&&", ("||",)),
    ("and, or", r"\|\|", ("&&",)),
    ("not", r"!(?!=)", ("",)),
    ("sign of a sum", r" \+ ", (" - ",)),
    ("sign of a sum", r" - ", (" + ",)),
    ("sign of a sum", r"\+=", ("-=",)),
    ("sign of a sum", r" -=", (" +=",)),
    ("sign of a value", r"(?<=[?(,:] )-(?=\w)|(?<=[(,])-(?=\w)", ("",)),
    ("product", r"(?<=\w) \* (?=[\w(])", (" + ",)),
    ("quotient", r" / ", (" * ", " % ")),
    ("quotient", r" % ", (" / ",)),
    ("bits", r" & ", (" | ",)),
    ("bits", r" \| ", (" & ",)),
    ("bits", r"\|=", ("=", "&=")),
    ("bits", r"~", ("",)),
    ("shift", r"<<", (">>",)),
    ("shift", r">>(?!=)", ("<<",)),
    ("count", r"\+\+", ("--",)),
    ("count", r"--(?=;)", ("++",)),
    ("width", r"\((u?int64_t)\)(?=[\w(])", ("(int32_t)",)),
    ("width", r"const (u?int64_t) (?=\w)", ("const int32_t ",)),
    ("verdict", r"\btrue\b", ("false",)),
    ("verdict", r"\bfalse\b", ("true",)),
)

# Names that a hand might mistake for each other: each in a row becomes the next.
NAMES = (
    ("first_low", "last_low", "impact", "first_impact"),
    ("first_low_ago", "last_low_ago", "impact_ago", "first_impact_ago"),
    ("lowest", "highest", "run_lowest", "peak"),
    ("settle_samples", "observe_samples", "hold_off_samples", "impact_within_samples"),
    ("guard_samples", "baseline_samples", "active_window_samples", "free_fall_samples"),
    ("active_low_counts", "active_high_counts", "still_counts", "impact_counts", "free_fall_counts"),
    ("tilt_on", "reclined_on", "still_on", "active_on", "restart_on", "free_fall_on"),
    ("tilt_cosine_q14", "reclined_cosine_q14"),
    ("a_sq", "b_sq"),
    ("a_u_sq", "u_sq"),
    ("dot", "dot_u"),
    ("candidate", "before"),
    ("vector_count", "bit_count", "raw_count"),
    ("PLF_WATCH", "PLF_PRIMED", "PLF_SETTLE", "PLF_OBSERVE", "PLF_HOLD"),
    ("PLF_ALARM", "PLF_NO_IMPACT", "PLF_REJECTED", "PLF_CUT_OFF"),
    ("PLF_ACTIVE", "PLF_TILT", "PLF_RECLINED", "PLF_STILL"),
    ("PLF_HAS_FREE_FALL", "PLF_HAS_HIGHEST", "PLF_HAS_IMPACT", "PLF_HAS_ACTIVE", "PLF_HAS_OBSERVED", "PLF_HAS_TILT",
     "PLF_HAS_RECLINED", "PLF_HAS_STILL"),
    ("PLF_DONE", "PLF_ENDED"),
    ("PASSES", "FAILS", "SKIPPED"),
    ("x", "y", "z"),
)
STATEMENT = re.compile(r"^ +(?! |return|const|case|default|for|while|if|switch|int|uint|enum|struct|plf_event|\}|/)"
                       r"[^\n]*;$", re.M)


@dataclass(frozen=True)
class Mutant:
    operator: str
    line: int
    was: str
    text: str

    def __str__(self) -> str:
        changed = self.text.splitlines()[self.line - 1].strip()
        return f"{self.operator}, line {self.line}: {self.was.strip()}  ->  {changed or '(nothing)'}"


def code_only(text: str) -> str:
    """The text with comments and preprocessor lines blanked, at the same places."""
    blank = re.sub(r"/\*.*?\*/", lambda m: re.sub(r"[^\n]", " ", m[0]), text, flags=re.S)
    return re.sub(r"^#include.*$", lambda m: " " * len(m[0]), blank, flags=re.M)


def mutants_of(text: str, first: str = "static uint32_t square",
               names: tuple[tuple[str, ...], ...] = NAMES) -> list[Mutant]:
    """Every mutant, each text once. `first`: where the code begins; what stands before it is mutated by its value."""
    code = code_only(text)
    begin = code.index(first)
    found: dict[str, Mutant] = {}

    def put(operator: str, start: int, end: int, new: str) -> None:
        mutated = text[:start] + new + text[end:]
        line = text.count("\n", 0, start) + 1
        found.setdefault(mutated, Mutant(operator, line, text.splitlines()[line - 1], mutated))

    for operator, pattern, replacements in SWAPS:
        for match in re.finditer(pattern, code):
            if match.start() >= begin and not (pattern.startswith(r"(?<=\w) \*") and _declares(code, match.start())):
                for new in replacements:
                    put(operator, match.start(), match.end(), new)
    for match in re.finditer(r"(?<![\w.\"])(\d+)(U?)(?![\w.\"])", code):
        value = int(match[1])
        for other in (value - 1, value + 1):
            if other >= 0 and not _dimension(code, match.start(), match.end()):
                put("constant by one", match.start(), match.end(), f"{other}{match[2]}")
    for row in names:
        for name, other in zip(row, (*row[1:], row[0]), strict=True):
            for match in re.finditer(rf"(?<!\w){name}(?!\w)(?!\()", code):
                if match.start() >= begin and not _defines(code, match.start(), match.end()):
                    put("another name", match.start(), match.end(), other)
    for match in STATEMENT.finditer(code):
        put("a statement left out", match.start(), match.end(), "")
    for match in re.finditer(r" \? ([^:?]+) : ([^;)\n]+)(?=[;)])", code):
        put("choice the other way", match.start(), match.end(), f" ? {match[2]} : {match[1].strip()}")
    return list(found.values())


def _declares(code: str, at: int) -> bool:
    """A star of a pointer's declaration is no product."""
    return re.search(r"(plf_\w+|u?int\d+_t|int|struct \w+)$", code[:at]) is not None


def _dimension(code: str, start: int, end: int) -> bool:
    """The length of an array in a declaration or parameter: nothing depends on it but room."""
    line_start = code.rindex("\n", 0, start) + 1
    line = code[line_start:code.index("\n", end)]
    declared = re.search(r"(u?int\d+_t|void) ?\*?\w*\[$", code[line_start:start])
    return code[start - 1] == "[" and (declared is not None and "=" not in line[:start - line_start])


def _defines(code: str, start: int, end: int) -> bool:
    """A name where it is declared, or a parameter: changing it there breaks the build, not the rule."""
    before = code[max(0, start - 40):start]
    return re.search(r"(u?int\d+_t|int|plf_\w+|enum \w+|struct \w+)[ *]+$", before) is not None \
        or re.search(r"(enum|struct) [^;]*\{[^}]*$", code[code.rfind("\n\n", 0, start):start]) is not None


# Mutants that no vector can fail on: what they change makes no difference, and why. Code before and after.
_SAME_VALUE = "differs where both are equal, and then it stores the value that is there"
EQUIVALENT = {
    ("v[axis] < 0 ?", "v[axis] <= 0 ?"): "differs for 0, and -0 is 0",
    ("v[axis] < 0 ?", "v[axis] < 1 ?"): "differs for 0, and -0 is 0",
    ("if (size > most)", "if (size >= most)"): _SAME_VALUE,
    ("if (m2 < state->run_lowest)", "if (m2 <= state->run_lowest)"): _SAME_VALUE,
    ("if (m2 < state->lowest)", "if (m2 <= state->lowest)"): _SAME_VALUE,
    ("|| m2 > state->highest)", "|| m2 >= state->highest)"): _SAME_VALUE,
    ("if (m2 > state->peak)", "if (m2 >= state->peak)"): _SAME_VALUE,
    ("before->has |= PLF_HAS_TILT;", "before->has = PLF_HAS_TILT;"): "`has` was set to 0 just before",
    ("before->has = 0;", "before->has = 1;"): "of a plf_before only the bits of active and tilt are ever read",
    ("state->raw_at = 0;", "state->raw_at = 1;"): "any slot of the circle will do, and a length of 1 uses none",
    ("if (length == 1)", "if (length == 0)"): "only saves time: the general way makes the same of a length of 1",
    ("plf_event nothing = { 0 };", "plf_event nothing = { 1 };"): "the member it sets, `ended`, is set again below",
}


def proof_of(mutant: Mutant, equivalent: Mapping[tuple[str, str], str] = EQUIVALENT) -> str | None:
    """Why a mutant is no mistake; None where nobody has shown it."""
    now = mutant.text.splitlines()[mutant.line - 1]
    for (before, after), proof in equivalent.items():
        if before in mutant.was and mutant.was.replace(before, after) == now:
            return proof
    return None


DETECTOR_OTHERS = (VECTORS_TEST_C, SETTINGS_C, SENSOR_C, CRC_C)
"""What the detector is linked with."""

SANITIZED = ("-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")


class Bench:
    """The vectors, compiled once with what isn't mutated; a mutant is compiled, linked with them and run."""

    def __init__(self, folder: Path, c_files: tuple[str, ...] = DETECTOR_OTHERS) -> None:
        self.folder, self.cc = folder, find_compiler()
        lay(folder, write_export(DEFAULTS, FrontEnd(), Provenance()))
        self.objects = [name.removesuffix(".c") + ".o" for name in c_files]
        for name, there in zip(c_files, self.objects, strict=True):
            self._cc("-O1", "-c", "-o", there, name)

    def _cc(self, *arguments: str) -> int:
        command = [self.cc, "-std=c99", "-w", "-I", ".", *arguments]
        return subprocess.run(command, cwd=self.folder, capture_output=True, check=False).returncode

    def verdict(self, number: int, text: str, flags: tuple[str, ...] = ("-O0",)) -> str:
        """`killed`, `no C` where it doesn't compile, or `alive`."""
        name = f"m{number}"
        (self.folder / f"{name}.c").write_text(text)
        try:
            if self._cc(*flags, "-o", name, f"{name}.c", *self.objects):
                return "no C"
            done = subprocess.run([self.folder / name], capture_output=True, timeout=10, check=False)
            return "killed" if done.returncode else "alive"
        except subprocess.TimeoutExpired:
            return "killed"
        finally:
            for path in (self.folder / f"{name}.c", self.folder / name):
                path.unlink(missing_ok=True)


def run(mutants: list[Mutant], original: str = DETECTOR_C,
        c_files: tuple[str, ...] = DETECTOR_OTHERS) -> dict[str, list[Mutant]]:
    """Mutants by their verdict; the file itself must pass. `c_files`: what it is linked with."""
    folder = Path(tempfile.mkdtemp(prefix="plumbfall-mutants-"))
    try:
        bench = Bench(folder, c_files)
        assert bench.verdict(0, source(original).decode()) == "alive", f"{original} itself fails the vectors"
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            verdicts = list(pool.map(lambda pair: bench.verdict(pair[0], pair[1].text), enumerate(mutants, 1)))
        by_verdict: dict[str, list[Mutant]] = {"killed": [], "alive": [], "no C": []}
        for number, (mutant, verdict) in enumerate(zip(mutants, verdicts, strict=True), 1):
            if verdict == "alive":  # a step beyond an array may do no harm here; the sanitizers see it
                verdict = bench.verdict(number, mutant.text, SANITIZED)
            by_verdict[verdict].append(mutant)
        return by_verdict
    finally:
        shutil.rmtree(folder)


def main() -> int:
    by_verdict = run(mutants_of(source(DETECTOR_C).decode()))
    for operator, count in Counter(m.operator for m in by_verdict["killed"] + by_verdict["alive"]).items():
        print(f"{count:5} {operator}")
    print({verdict: len(found) for verdict, found in by_verdict.items()})
    for verdict in ("no C", "alive") if "-v" in sys.argv else ("alive",):
        for mutant in by_verdict[verdict]:
            print(f"{verdict}: {mutant}" + (f"  [equivalent: {proof}]" if (proof := proof_of(mutant)) else ""))
    return 0


if __name__ == "__main__":
    sys.exit(main())
