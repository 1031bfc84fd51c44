"""Both invented aircraft, planned once."""

import pytest

from oxlatch_tools.installation import example, load_installation, parse_installation
from oxlatch_tools.planning.plan import make_plan


@pytest.fixture(scope="session")
def tug():
    return load_installation(example("alpine_tug"))


@pytest.fixture(scope="session")
def valley():
    return load_installation(example("valley_two_seater"))


@pytest.fixture(scope="session")
def tug_plan(tug):
    return make_plan(tug)


@pytest.fixture(scope="session")
def valley_plan(valley):
    return make_plan(valley)


@pytest.fixture(scope="session")
def tug_with():
    """The tug with texts of its file replaced: pairs of old and new."""
    text = example("alpine_tug").read_text(encoding="utf-8")

    def changed(*pairs):
        other = text
        for old, new in pairs:
            assert old in other, old
            other = other.replace(old, new)
        return parse_installation(other)

    return changed
