"""Numbers of a frame in the units of the installation."""

import pytest

from oxlatch_tools.panel.units import shown_units


def shown(units: str, kind: str, value: float) -> float:
    how = shown_units(units)[kind]  # type: ignore[arg-type]
    return float(how["scale"] * value + how["offset"])


@pytest.mark.parametrize(
    ("kind", "value"), [("pressure", 55.0), ("temperature", 25.0), ("mass", 4.5), ("flow", 12.6), ("altitude", 1950.0)]
)
def test_metric_shows_what_the_frame_says(kind: str, value: float) -> None:
    assert shown("metric", kind, value) == pytest.approx(value)


@pytest.mark.parametrize(
    ("kind", "value", "us", "unit"),
    [
        ("pressure", 55.0, 797.7, "psi"),
        ("fuel pressure", 0.5, 7.252, "psi"),
        ("temperature", 25.0, 77.0, "°F"),
        ("mass", 4.5, 9.921, "lb"),
        ("flow", 12.6, 1.6667, "lb/min"),
        ("altitude", 1950.0, 6397.6, "ft"),
    ],
)
def test_us_units_are_the_trade_s(kind: str, value: float, us: float, unit: str) -> None:
    """By hand: 1 bar is 14.5038 psi, 1 kg 2.20462 lb, 1 g/s 0.132277 lb/min, 1 m 3.28084 ft."""
    assert shown("us", kind, value) == pytest.approx(us, rel=1e-4)
    assert shown_units("us")[kind]["unit"] == unit  # type: ignore[arg-type]
