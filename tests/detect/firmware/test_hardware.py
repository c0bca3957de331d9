"""The shipped target program on this machine and on an emulated controller: every field as the reference has it."""

import json
import os
import re
import select
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from app.study.capture.sources import SerialPort, TcpClient, opened
from app.study.capture.target_trial import try_study, try_vectors, unrolled
from app.study.session import Session
from app.study.storage.study_files import settings_from
from detect.firmware import hardware
from detect.firmware.check import difference_of
from detect.firmware.export import RULE_C, TARGET_C, TARGET_MAIN_C, lay, write_export
from detect.firmware.hardware import Target, TargetFailed
from detect.firmware.header import writer
from detect.firmware.header.writer import Provenance
from detect.firmware.vectors.boundary_cases import own_part
from detect.firmware.vectors.detector import expected
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.device_made import falls
from tests.detect.firmware.toolchain import BOARDS, SANITIZED, STRICT, TARGET, TARGET_FLAGS, call, needs

PROGRAMS = Path(__file__).with_name("programs")
POSIX = pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
C_FILES = (TARGET_MAIN_C, TARGET_C, "plumbfall_frame.c", "plumbfall_record.c", *RULE_C)
RULE = rule_of(DEFAULTS, FrontEnd())
IDENTITY = writer.identity(RULE, FrontEnd())
EVERYTHING = DEFAULTS.with_value("active_on", True).with_value("reclined_on", True)


class Pipe:
    """A program's standard input and output as a line."""

    def __init__(self, program):
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0)

    def write(self, data):
        self.process.stdin.write(data)

    def read(self):
        return os.read(self.process.stdout.fileno(), 4096)

    def close(self):
        self.process.stdin.close()
        self.process.stdout.read()
        self.process.stdout.close()
        return self.process.wait()


class LosingPipe(Pipe):
    """Loses every seventh message there, and every eleventh answer."""

    def __init__(self, program):
        super().__init__(program)
        self.sent = self.answered = 0

    def write(self, data):
        self.sent += 1
        if self.sent % 7:
            super().write(data)

    def read(self):
        if not select.select([self.process.stdout], [], [], 0.01)[0]:
            return b""
        data = super().read()
        self.answered += 1
        return b"" if self.answered % 11 == 0 and data.count(b"\0") == 1 else data


@pytest.fixture(scope="module")
def program(tmp_path_factory, exported_files):
    """The target program of an export on this machine, under sanitizers, with a ring for any settings."""
    folder = tmp_path_factory.mktemp("target")
    lay(folder, exported_files)
    call(folder, "clang", *SANITIZED, "-DPLF_TARGET_RING_WORDS=30000", "-I", ".", "-o", "target", *C_FILES,
         PROGRAMS / "board_host.c")
    return folder / "target"


@pytest.mark.parametrize("compiler", [pytest.param(c, marks=needs(c)) for c in ("gcc", "clang")])
def test_compilers_find_nothing_to_say(exported, compiler):
    for name in (TARGET_C, TARGET_MAIN_C):
        assert call(exported, compiler, *STRICT, "-c", "-o", "object.o", name) == ""


@needs("clang")
def test_every_attempt_comes_back_as_the_reference_has_it(program):
    line = Pipe(program)
    target = Target(line)
    signal = falls(3)
    stretches = [signal[:1600], signal[1600:1700], signal[1700:]]
    for rule in (None, rule_of(EVERYTHING, FrontEnd())):
        found = target.attempts(stretches, rule)
        assert difference_of(attempts_of(rule or RULE, [one.tolist() for one in stretches]), found) is None
        assert sum(attempt.ended == "alarm" for attempt in found) >= 2
    assert target.effort.samples == 2 * len(signal)
    assert target.effort.cycles == 7 * target.effort.samples
    assert target.effort.worst == 7
    assert line.close() == 0


@needs("clang")
def test_each_sample_is_held_back_until_its_time_where_that_is_asked(program):
    line, held = Pipe(program), []
    Target(line).attempts([falls(1)[:100], falls(1)[100:120]], pace=held.append)
    assert held == [0, 39, 78, 100]
    line.close()


@needs("clang")
def test_messages_and_answers_that_are_lost_change_nothing(program):
    line = LosingPipe(program)
    target = Target(line, answer_s=0.05)
    signal = falls(2)
    assert difference_of(attempts_of(RULE, [signal.tolist()]), target.attempts([signal])) is None
    assert target.effort.sent_again > 5
    line.close()


@needs("clang")
def test_settings_that_the_target_has_no_room_for_are_refused_in_a_sentence(program):
    call(program.parent, "clang", "-I", ".", "-o", "small", *C_FILES, PROGRAMS / "board_host.c")
    line = Pipe(program.with_name("small"))
    large = rule_of(EVERYTHING.with_value("baseline_ms", 20_000), FrontEnd(rate_hz=200))
    with pytest.raises(TargetFailed, match=r"its ring has \d+ words"):
        Target(line).attempts([falls(1)], large)
    line.close()


def test_a_line_at_which_nobody_is_says_so():
    class Nobody:
        def read(self):
            return b""

        def write(self, data):
            pass
    with pytest.raises(TargetFailed, match="did not answer 5 times, when it was asked to begin"):
        Target(Nobody(), answer_s=0.01).begin()


# Over a terminal, as a serial port is one


@pytest.fixture
def terminal(program):
    """The path of a terminal with the target at its other end."""
    ours, theirs = os.openpty()
    process = subprocess.Popen([program], stdin=ours, stdout=ours)
    yield os.ttyname(theirs)
    process.kill()
    process.wait()
    os.close(ours)
    os.close(theirs)


@needs("clang")
@POSIX
@pytest.mark.slow
def test_all_golden_vectors_pass_over_a_terminal(terminal):
    trial = try_vectors(SerialPort(terminal, 2_000_000), RULE, IDENTITY)
    assert trial.differences == ()
    assert trial.tried > 100
    assert trial.left_out == 0
    assert trial.passed


@needs("clang")
@POSIX
def test_golden_vectors_of_the_own_settings_pass_over_a_terminal(terminal):
    source = opened(SerialPort(terminal, 2_000_000))
    target = Target(source)
    target.begin()
    for case in own_part(RULE).cases:
        assert difference_of(expected(case), target.steps(*unrolled(case), case.rule)) is None, case.name
    source.close()


@needs("clang")
@POSIX
def test_the_command_prints_what_it_came_to_and_fails_on_a_difference(terminal, program, tmp_path):
    study = shutil.copytree(Path(__file__).parents[2] / "compat" / "files", tmp_path / "played") / "study.json"
    session = Session.opened(study)
    session.adopt(settings_from(program.parent / writer.NAME, session.study.front_end))
    session.save(study)

    def trying(*words):
        command = [sys.executable, "-m", "app", "try", program.parent, "--port", terminal, *words]
        return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False,
                              cwd=Path(__file__).parents[3])
    done = trying("--study", study)
    assert done.returncode == 0, done.stderr
    assert re.search(r"^12 recordings, \d+ attempts on the target: 0 differ from the workbench", done.stdout)
    assert "7 cycles a sample on average, 7 the slowest" in done.stdout
    assert trying("--real-time").returncode == 2
    assert json.loads(trying("--study", study, "--json").stdout)["passed"]


@needs("clang")
@POSIX
def test_a_target_with_other_settings_than_the_folder_is_told(terminal):
    with pytest.raises(TargetFailed, match="flash what this folder builds"):
        try_vectors(SerialPort(terminal, 2_000_000), RULE, IDENTITY ^ 1)


# On an emulated controller


@pytest.fixture
def emulated_target(tmp_path, monkeypatch):
    """Builds an export's target program and runs it on the emulated controller; the address of its serial port."""
    running = []
    monkeypatch.setattr(hardware, "TRIES", 60)  # a busy machine may leave the emulator waiting for many seconds

    def start(settings, front_end, **changes):
        folder = tmp_path / "export"
        files = write_export(settings, front_end, Provenance())
        for name, content in files.items():
            was, now = changes.get(name.replace(".", "_"), (b"", b""))
            assert was in content
            files[name] = content.replace(was, now) if was else content
        lay(folder, files)
        machine, flash, ram, words = BOARDS["cortex-m3"]
        call(folder, "arm-none-eabi-gcc", "-mcpu=cortex-m3", *TARGET_FLAGS, "-nostdlib",
             f"-DPLF_TARGET_RING_WORDS={words}U", "-I", folder, "-I", TARGET, "-T", TARGET / "target.ld",
             f"-Wl,--defsym=FLASH={flash},--defsym=RAM={ram}", "-o", "target.elf", TARGET / "startup.c",
             TARGET / "board_uart.c", *C_FILES, "-lgcc")
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        running.append(subprocess.Popen(
            ["qemu-system-arm", "-M", machine, "-nographic", "-monitor", "none", "-serial",
             f"tcp:127.0.0.1:{port},server=on,wait=on,nodelay=on", "-kernel", folder / "target.elf"]))
        source = TcpClient("127.0.0.1", port)
        end = time.monotonic() + 60
        while True:
            try:
                source.open()
                break
            except OSError:
                assert time.monotonic() < end, "the emulator does not answer"
                time.sleep(0.05)
        return folder, Opened(source)

    yield start
    for process in running:
        process.kill()
        process.wait()


class Opened:
    """A source that is open already: the emulator takes one connection."""

    def __init__(self, source):
        self.source, self.name = source, source.name
        self.read, self.write = source.read, source.write

    def open(self):
        pass

    def close(self):
        self.source.close()


@needs("arm-none-eabi-gcc", "qemu-system-arm")
def test_a_study_s_recordings_pass_on_an_emulated_controller(emulated_target):
    session = Session.opened(Path(__file__).parents[2] / "compat" / "files" / "study.json")
    folder, source = emulated_target(session.study.settings, session.study.front_end)
    trial = try_study(source, folder, session)
    assert trial.differences == ()
    assert trial.tried >= 6
    assert trial.attempts >= 6
    assert trial.effort.samples > 4000
    # The emulator's clock follows the computer's, so a fast computer counts few: only the order of size is known.
    assert 0.1 < trial.effort.cycles / trial.effort.samples < 20_000


@needs("arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.slow
def test_a_detector_changed_by_hand_is_found_out_there(emulated_target):
    session = Session.opened(Path(__file__).parents[2] / "compat" / "files" / "study.json")
    folder, source = emulated_target(session.study.settings, session.study.front_end,
                                     plumbfall_detector_c=(b"found |= bit;", b"found += bit - 1;"))
    trial = try_study(source, folder, session)
    assert not trial.passed
    assert "here and" in trial.differences[0]


@needs("arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.slow
def test_the_golden_vectors_pass_on_an_emulated_controller(emulated_target):
    _, source = emulated_target(DEFAULTS, FrontEnd())
    trial = try_vectors(source, RULE, IDENTITY)
    assert trial.differences == ()
    assert trial.tried > 100
    assert trial.left_out <= 1
