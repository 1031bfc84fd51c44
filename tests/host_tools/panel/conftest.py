"""An aircraft, a bench session, and a served panel."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.host_tools.panel.served import Served, serve_session

from oxlatch_tools.aircraft import Aircraft, load_aircraft
from oxlatch_tools.panel.bench_session import BenchSession


@pytest.fixture(scope="session")
def tug() -> Aircraft:
    return load_aircraft(None)


@pytest.fixture()
def session(tug: Aircraft, tmp_path: Path) -> BenchSession:
    """A bench session with a page looking on."""
    made = BenchSession(tug, tmp_path)
    made.alone(False)
    return made


@pytest.fixture(scope="module")
def served(tug: Aircraft, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("recordings")
    yield from serve_session(BenchSession(tug, folder), folder)
