"""The keyed hash of a station's commands: its authors' files as they published them, and their own vectors."""

import hashlib

import pytest

from detect.firmware.export import SIPHASH, SIPHASH_C, TAG, source
from tests.detect.firmware.toolchain import BOARDS, SANITIZED, STRICT, TARGET, call, emulated, needs

PUBLISHED = {
    "siphash/siphash.h": "30d4269093e5886cb9e7ea826899ef02daddac682e73c335c53dd748b9e20bfb",
    "siphash/siphash.c": "94b6c1f3a24072a8a5afc4fea7fb9e95c5fc2e99657b6b712d991029ffdaa88c",
    "siphash/vectors.h": "212c44114a63c6d84710b8627f3bc5ce155698accf2ea7bbff1c4b69c9f48d31",
    "siphash/LICENSE_CC0.txt": "5537d4d10b76b81b6e8dfd8b644480a4b1efa332fbb0cdb61126c5be781ef7b4",
}
"""SHA-256 of the files of the reference implementation, github.com/veorq/SipHash at f26d35e."""


def test_the_authors_files_are_unchanged_and_all_go_out(exported_files):
    assert set(PUBLISHED) == set(SIPHASH)
    assert {name: hashlib.sha256(exported_files[name]).hexdigest() for name in SIPHASH} == PUBLISHED
    assert b"CC0" in source("siphash/siphash.c")


def passes(folder):
    call(folder, "clang", *SANITIZED, "-I", ".", "-I", TARGET, "-o", "run_tag", TARGET / "run_tag.c",
         TARGET / "host.c", TAG[1], SIPHASH_C)
    return call(folder, folder / "run_tag")


@needs("clang")
def test_their_64_vectors_pass_here_under_sanitizers(exported):
    assert passes(exported) == "vectors 64\nfailed 0\n"


@needs("clang")
def test_a_round_less_or_another_rotation_fails_all_of_them(exported):
    right = (exported / SIPHASH_C).read_text()
    for was, now in (("#define dROUNDS 4", "#define dROUNDS 3"), ("ROTL(v1, 13)", "ROTL(v1, 12)")):
        assert was in right
        (exported / SIPHASH_C).write_text(right.replace(was, now))
        with pytest.raises(AssertionError, match="failed 64"):
            passes(exported)


@needs("arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.parametrize("processor", BOARDS)
def test_their_vectors_pass_on_an_emulated(processor, exported):
    said = emulated(exported, "run_tag", processor, 1, c_files=(TAG[1], SIPHASH_C))
    assert said == {"vectors": 64, "failed": 0}


@pytest.mark.parametrize("compiler", [pytest.param(c, marks=needs(c)) for c in ("gcc", "clang")])
def test_compilers_find_nothing_to_say_of_what_calls_it(exported, compiler):
    assert call(exported, compiler, *STRICT, "-c", "-o", "tag.o", TAG[1]) == ""
