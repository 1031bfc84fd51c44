"""What goes onto a board: every module the start-up needs, compiled, listed with its SHA-256, within the flash."""

import hashlib
import json

import pytest

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.serial.device_files import BuildError, build_files, compile_source, mpy_version

FLASH_BYTES = 96 * 1024


@pytest.fixture(scope="module", params=["rp2", "desk"])
def built(request):
    return build_files(request.param)


def test_the_manifest_lists_every_other_file_with_its_sha256(built):
    manifest = json.loads(built.files["manifest.json"])
    assert manifest["firmware"] == firmware_digest() == built.firmware
    others = {name: hashlib.sha256(data).hexdigest() for name, data in built.files.items() if name != "manifest.json"}
    assert manifest["files"] == others


def test_start_files_go_as_source_and_the_package_compiled(built):
    assert built.files["boot.py"].startswith(b'"""')
    assert built.files["main.py"].startswith(b'"""')
    package = [name for name in built.files if name.startswith("oxlatch/")]
    assert "oxlatch/gate.mpy" in package
    assert all(name.endswith(".mpy") and built.files[name][0:2] == bytes((ord("M"), mpy_version())) for name in package)


def test_a_board_gets_its_own_board_file_and_no_other(built):
    boards = {name for name in built.files if "/boards/" in name} - {"oxlatch/boards/__init__.mpy"}
    rp2 = {f"oxlatch/boards/{name}.mpy" for name in ("rp2", "rp2_extras", "rp2_pins", "rp2_pulses", "rp2_scales")}
    assert boards == {"rp2": rp2, "desk": {"oxlatch/boards/desk.mpy"}}[built.board]


def test_what_only_the_host_uses_is_not_put_on_a_board(built):
    assert "oxlatch/vocabulary.mpy" not in built.files
    assert b"BOTTLE RAN LOW" not in b"".join(built.files.values())


def test_the_files_fit_the_flash_set_aside_for_them(built):
    assert built.compiled_bytes < FLASH_BYTES


def test_an_unknown_board_and_a_file_that_does_not_compile_are_told():
    with pytest.raises(BuildError, match="no firmware for a board of kind 'x'; allowed are rp2, desk"):
        build_files("x")
    with pytest.raises(BuildError, match="does not compile"):
        compile_source("match x:\n    case 1:\n        pass\n", "oxlatch/bad.py")
