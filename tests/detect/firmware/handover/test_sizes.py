"""What BUILD.md says that an export takes, on each core and with each compiler, is what they make of it."""

import pytest

from detect.firmware.export import BUILD_MD
from tests.detect.firmware.handover import sizes
from tests.detect.firmware.handover.sizes import TOOLCHAINS, deepest, measured, rows_of
from tests.detect.firmware.toolchain import needs


def test_the_page_has_a_row_for_each_and_says_which_compilers(exported_files):
    page = exported_files[BUILD_MD].decode()
    assert list(rows_of(page)) == [(tools.core, tools.name) for tools in TOOLCHAINS]
    assert {tools.core for tools in TOOLCHAINS} == {"32-bit", "smaller 32-bit", "16-bit", "8-bit"}
    assert all((None in numbers) == (not tools.processor)
               for tools, numbers in zip(TOOLCHAINS, rows_of(page).values(), strict=True))


def hold(said, found):
    """Nobody is told less than there is, nor a twentieth more; the same releases give the same figures."""
    for shown, real in zip(said, found, strict=True):
        assert shown == real or (None not in (shown, real) and real <= shown <= 1.05 * real), (said, found)


@pytest.mark.parametrize("tools", [
    pytest.param(one, id=f"{one.core} {one.name}", marks=needs(one.command[0], "llvm-size")) for one in TOOLCHAINS])
def test_the_page_s_bytes_are_those_of_the_compiler(tools, exported):
    said = rows_of((exported / BUILD_MD).read_text())[tools.core, tools.name]
    hold(said[:-2], measured(exported, tools, instructions=False).numbers[:-2])


@needs("clang", "llvm-size", "arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.slow
@pytest.mark.parametrize("tools", [pytest.param(one, id=f"{one.core} {one.name}")
                                   for one in TOOLCHAINS if one.processor])
def test_the_page_s_instructions_are_those_of_the_emulator(tools, exported):
    said = rows_of((exported / BUILD_MD).read_text())[tools.core, tools.name]
    hold(said, measured(exported, tools).numbers)


def test_the_deepest_chain_counts_each_frame_once_and_what_was_inlined_not_at_all():
    calls = {"main": {"a", "b"}, "a": {"c"}, "b": set(), "c": set()}
    assert deepest("main", calls, {"main": 10, "a": 5, "b": 20, "c": 30}) == 45
    assert deepest("main", calls, {"main": 10, "b": 20}) == 30


def test_every_function_that_a_compiler_names_is_in_the_graph_of_calls(exported):
    graph = sizes.called(exported)
    assert ("plumbfall_block.c", "plf_block_poll") in graph["example/main.c", "poll_parameters"]
    assert ("plumbfall_crc.c", "plf_crc32") in graph["plumbfall_settings.c", "plf_identity"]
    named = {key for key in graph if key[0] == "plumbfall_detector.c"}
    assert {name for _, name in named} >= {"plf_init", "plf_step", "plf_gap", "plf_finish"}
