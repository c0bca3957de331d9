"""The files for those who build: each names all that is built into firmware, and what they build runs."""

import json
import re
from fnmatch import fnmatch

import yaml

from detect.firmware.check import API_VERSION
from detect.firmware.export import BUILD_FILES, EXAMPLE, EXAMPLE_C, FIRMWARE_C, LIBRARY_JSON, MODULE_YML, lay, source
from tests.detect.firmware.toolchain import call, needs

MAKEFILE = """\
include handed/plumbfall.mk
CFLAGS = -std=c99 -O1 -Wall -Wextra $(PLUMBFALL_FLAGS)
device: $(PLUMBFALL_EXAMPLE_C) $(PLUMBFALL_C)
\t$(CC) $(CFLAGS) -o device $(PLUMBFALL_EXAMPLE_C) $(PLUMBFALL_C)
detector.a: $(PLUMBFALL_DETECTOR_C:.c=.o)
\t$(AR) rcs detector.a $(PLUMBFALL_DETECTOR_C:.c=.o)
"""
INSIDE = """\
cmake_minimum_required(VERSION 3.16)
project(firmware LANGUAGES C)
add_subdirectory("for the device")
add_executable(firmware main.c)
target_link_libraries(firmware plumbfall::plumbfall)
"""
MODULES = """\
cmake_minimum_required(VERSION 3.16)
project(firmware LANGUAGES C)
function(zephyr_library)
    add_library(of_module STATIC)
endfunction()
function(zephyr_library_sources)
    target_sources(of_module PRIVATE ${ARGV})
endfunction()
function(zephyr_include_directories)
    include_directories(${ARGV})
endfunction()
add_subdirectory("for the device/zephyr")
"""
"""What that build system's own functions come to, for a module that uses three of them."""


@needs("cmake", "cc")
def test_cmake_builds_library_vectors_and_example_and_all_pass(exported):
    call(exported, "cmake", "-S", ".", "-B", "build", "-DCMAKE_C_FLAGS=-Wall -Wextra -Werror")
    call(exported, "cmake", "--build", "build")
    said = call(exported, "ctest", "--test-dir", "build")
    assert "100% tests passed, 0 tests failed out of 4" in said


@needs("cmake", "cc")
def test_another_project_takes_it_as_a_folder_of_its_own(exported):
    top = exported.parent
    (top / "CMakeLists.txt").write_text(INSIDE)
    (top / "main.c").write_text('#include "plumbfall_detector.h"\nint main(void) { return plf_init(0, 0, 0, 0) != '
                                "PLF_REFUSED; }\n")
    call(top, "cmake", "-S", ".", "-B", "build")
    call(top, "cmake", "--build", "build")
    call(top, top / "build" / "firmware")
    assert not list(top.glob("build/**/*vectors*"))


@needs("make", "cc")
def test_a_makefile_includes_the_fragment(tmp_path, exported_files):
    lay(tmp_path / "handed", exported_files)
    (tmp_path / "Makefile").write_text(MAKEFILE)
    call(tmp_path, "make", "device", "detector.a")
    assert "confirmed 1\n" in call(tmp_path, tmp_path / "device")


@needs("cmake", "cc")
def test_the_module_builds_with_the_functions_that_its_build_system_has(exported):
    assert yaml.safe_load((exported / MODULE_YML).read_text()) == {"name": "plumbfall", "build": {"cmake": "zephyr"}}
    (exported.parent / "CMakeLists.txt").write_text(MODULES)
    call(exported.parent, "cmake", "-S", ".", "-B", "build")
    call(exported.parent, "cmake", "--build", "build")


def test_each_names_the_same_files(exported_files):
    cmake, make = (source(name).decode() for name in ("plumbfall_sources.cmake", "plumbfall.mk"))
    listed = [name.removeprefix("${PLUMBFALL}/") for name in re.findall(r"\S+\.c\b", cmake)]
    assert sorted(listed) == sorted([*FIRMWARE_C, *EXAMPLE_C])
    text = make.replace("\\\n", " ")
    prefixed = [f"{prefix}{name}" for prefix, names in re.findall(r"\(PLUMBFALL\)/([\w/]+),([^)]*)\)", text)
                for name in names.split()]
    assert sorted([*prefixed, "siphash/siphash.c"]) == sorted([*FIRMWARE_C, *EXAMPLE_C])
    library = json.loads(source(LIBRARY_JSON))
    taken = set()
    for rule in library["build"]["srcFilter"]:
        found = {name for name in exported_files if fnmatch(name, rule[2:-1])}
        taken = taken | found if rule.startswith("+") else taken - found
    assert taken == set(FIRMWARE_C)
    assert {f"example/{name}" for name in library["examples"][0]["files"]} == set(EXAMPLE)


def test_versions_are_that_of_the_c_api():
    assert json.loads(source(LIBRARY_JSON))["version"] == f"{API_VERSION}.0.0"
    assert f"project(plumbfall VERSION {API_VERSION}.0.0 LANGUAGES C)" in source("CMakeLists.txt").decode()


def test_no_name_but_a_tool_s_own_is_in_them():
    """What a build system calls its files is theirs to say; no maker, no part, no address."""
    for name in BUILD_FILES:
        assert not re.search(r"https?:|@", source(name).decode())
