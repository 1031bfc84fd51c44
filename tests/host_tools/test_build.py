"""The digest of a build is the same for the same files, and changes with any of them."""

import shutil
import sys
from pathlib import Path

import pytest

from oxlatch_tools import build


@pytest.fixture
def copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package of two files that stands for the three."""
    package = tmp_path / "oneofthree"
    package.mkdir()
    (package / "__init__.py").write_text("")
    (package / "table.toml").write_text("a = 1\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(build, "PACKAGES", ("oneofthree",))
    yield package
    sys.modules.pop("oneofthree", None)


def digest() -> str:
    build.build_digest.cache_clear()
    try:
        return build.build_digest()
    finally:
        build.build_digest.cache_clear()


def test_any_file_changes_the_digest_and_caches_and_flashed_start_files_do_not(copied: Path) -> None:
    before = digest()
    (copied / "__pycache__").mkdir()
    (copied / "__pycache__" / "x.pyc").write_bytes(b"1")
    (copied / "serial" / "device").mkdir(parents=True)
    (copied / "serial" / "device" / "boot.py").write_text("pass\n")
    assert digest() == before
    (copied / "table.toml").write_text("a = 2\n")
    assert digest() != before


def test_the_same_files_elsewhere_give_the_same_digits(copied: Path, tmp_path: Path, monkeypatch) -> None:
    before = digest()
    (tmp_path / "elsewhere").mkdir()
    shutil.move(copied, tmp_path / "elsewhere" / "oneofthree")
    monkeypatch.syspath_prepend(str(tmp_path / "elsewhere"))
    assert digest() == before
