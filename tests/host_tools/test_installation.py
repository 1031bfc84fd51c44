"""The installation file: what is accepted, what is refused and how the refusal reads."""

import re
import tomllib

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxlatch_tools.installation import (
    InstallationError,
    example,
    load_installation,
    parse_installation,
)
from oxlatch_tools.installation_quantities import from_kept, to_kept
from oxlatch_tools.installation_schema import SCHEMA_PATH, schema_text

TUG = example("alpine_tug").read_text(encoding="utf-8")
EXAMPLES = ("alpine_tug", "valley_two_seater")


def problems_of(text):
    with pytest.raises(InstallationError) as caught:
        parse_installation(text, "file.toml")
    return caught.value.problems


def changed(old, new, count=1):
    assert TUG.count(old) >= 1, old
    return TUG.replace(old, new, count)


@pytest.mark.parametrize("name", EXAMPLES)
def test_both_examples_load(name):
    installation = load_installation(example(name))
    assert re.fullmatch("[0-9a-f]{8}", installation.digest)
    assert installation.aircraft.example


def test_the_tug_is_the_flat_six_of_8_4_litres_with_seven_distinct_sums():
    tug = load_installation(example("alpine_tug"))
    assert tug.displacement_m3 * 1e3 == pytest.approx(8.379, abs=0.001)
    assert from_kept(tug.displacement_m3, "in**3", "volume") == pytest.approx(511, abs=0.5)
    sums = [tug.pattern_power_w(pattern) for pattern in tug.patterns()]
    assert len(set(sums)) == 7


def test_the_valley_sprays_its_small_stage_ahead_of_the_plenum_on_28_volts():
    valley = load_installation(example("valley_two_seater"))
    assert (valley.stages[0].delivery, valley.stages[1].delivery) == ("plenum", "port")
    assert valley.engine.cylinders == 4
    assert valley.electrical.nominal == 28.0


def test_the_same_values_in_other_units_order_and_comments_have_the_same_digest():
    other = changed('bore = "126 mm"', 'bore = "12.6 cm"  # the same')
    other = other.replace('power = "228 kW"', 'power = "228000 W"')
    other = other.replace('supply_cut = "38 bar"\n', "").replace(
        'supply_leave = "43 bar"', 'supply_leave = "4.3 MPa"\nsupply_cut = "3800 kPa"'
    )
    other = other.replace('units = "metric"', 'units = "us"')
    assert parse_installation(other).digest == parse_installation(TUG).digest


def test_another_value_anywhere_changes_the_digest():
    seen = {parse_installation(TUG).digest}
    for old, new in (
        ('lead = "30 ms"', 'lead = "35 ms"'),
        ("siphon = true", "siphon = false"),
        ('name = "Alpine tug"', 'name = "Alpine tow"'),
        ("date = 2026-04-25", "date = 2026-04-26"),
        ('"coil rail", ', ""),
    ):
        seen.add(parse_installation(changed(old, new)).digest)
    assert len(seen) == 6


CASES = [
    ('power = "228 kW"', 'powr = "228 kW"', "ceiling.powr", "power"),
    ('power = "228 kW"', 'power = "228 bar"', "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', "power = 228", "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', "power = 228000.0", "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', 'power = "228"', "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', 'power = "lots"', "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', 'power = "2280 kW"', "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', 'power = "nan kW"', "ceiling.power", "0.5 kW to 1000 kW"),
    ('power = "228 kW"', 'power = "150 kW"', "ceiling.power", "more than engine.rated_power"),
    ('use = "together"', 'use = "both"', "bottle.use", '"together", "in turn"'),
    ("cylinders = 6", "cylinders = true", "engine.cylinders", "a whole number from 1, to 18"),
    (
        'supply_cut = "38 bar"',
        'supply_cut = "44.5 bar"',
        "limits.supply_leave",
        "more than limits.supply_cut",
    ),
    ('charge = "4.5 kg"', 'charge = "4.9 kg"', "bottle.charge", "up to bottle.fill_limit"),
    ("stages = [2, 3]", "stages = [2, 4]", "tested.patterns[6].stages", "different stages from 1 to 3"),
    (
        'start_temperature = "25 degC"',
        'start_temperature = "25 C"',
        "bottle.start_temperature",
        "-40 degC to 60 degC",
    ),
    (
        'fuel = { full_scale = "1.6 bar"',
        'fuel = { full_scale = "0.55 bar"',
        "sensors.fuel.full_scale",
        "more than",
    ),
    ('"contact second pole", "throttle position", ', "", "sensors.fitted", "at least one of the two"),
    ('name = "Stage 2"', 'name = "Stage 1"', "stages[2].name", "a name of its own"),
    ('power = "55 kW"', 'power = "25 kW"', "stages[3].power", "stages in ascending power"),
]


@pytest.mark.parametrize(("old", "new", "field", "allowed"), CASES)
def test_a_bad_value_is_named_with_file_line_field_and_what_is_allowed(old, new, field, allowed):
    text = changed(old, new)
    found = [problem for problem in problems_of(text) if problem.field == field]
    assert found, problems_of(text)
    assert allowed in found[0].allowed
    line = text.splitlines()[found[0].line - 1]
    assert field.split(".")[-1].split("[")[0] in line


def test_all_problems_are_listed_at_once():
    text = changed('power = "228 kW"', 'power = "228 bar"')
    text = text.replace('lead = "30 ms"', 'lead = "90 ms"').replace("siphon = true", "siphoned = true")
    fields = {problem.field for problem in problems_of(text)}
    assert {"ceiling.power", "timing.lead", "bottle.siphoned", "bottle.siphon"} <= fields


def test_contradictions_are_listed_at_once():
    text = changed('power = "228 kW"', 'power = "100 kW"').replace('charge = "4.5 kg"', 'charge = "5.5 kg"')
    assert {problem.field for problem in problems_of(text)} == {"ceiling.power", "bottle.charge"}


@pytest.mark.parametrize(
    ("text", "words"),
    [("[aircraft\n", "line 1"), ("", "is missing"), ("a = [[[[[", "is not TOML"), ("format = 2\n", "1")],
)
def test_what_is_not_such_a_file_is_refused_in_one_message(text, words):
    with pytest.raises(InstallationError) as caught:
        parse_installation(text, "file.toml")
    assert words in str(caught.value)
    assert "file.toml" in str(caught.value)


def test_a_missing_file_and_a_binary_file_are_refused(tmp_path):
    with pytest.raises(InstallationError, match="No such file"):
        load_installation(tmp_path / "none.toml")
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InstallationError, match="UTF-8"):
        load_installation(tmp_path / "binary.toml")


@given(st.data())
def test_no_damage_to_the_file_raises_anything_but_the_named_error(data):
    at = data.draw(st.integers(0, len(TUG) - 1))
    size = data.draw(st.integers(0, 40))
    piece = data.draw(st.text(max_size=20))
    try:
        parse_installation(TUG[:at] + piece + TUG[at + size :])
    except InstallationError as error:
        assert str(error)


@given(st.floats(0.3, 900), st.sampled_from([("bar", "psi"), ("MPa", "inHg")]))
def test_quantities_survive_a_change_of_unit(value, units):
    kept = to_kept(value, units[0], "pressure")
    assert from_kept(to_kept(from_kept(kept, units[1], "pressure"), units[1], "pressure"), units[0], "pressure") == (
        pytest.approx(value, rel=1e-12)
    )


def test_temperatures_are_absolute_and_pressures_exact():
    assert to_kept(77, "degF", "temperature") == pytest.approx(298.15)
    assert to_kept(1, "psi", "pressure") == pytest.approx(6894.757, rel=1e-6)


def test_the_published_schema_is_current():
    assert SCHEMA_PATH.read_text(encoding="utf-8") == schema_text()


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_schema_accepts_the_examples_and_refuses_an_unknown_key(name):
    import json

    schema = json.loads(schema_text())
    tree = tomllib.loads(example(name).read_text(encoding="utf-8"))
    plain = json.loads(json.dumps(tree, default=str))
    jsonschema.validate(plain, schema)
    plain["engine"]["pistons"] = 3
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(plain, schema)


@pytest.mark.parametrize("unit", ["mm]", "(mm", "mm)'", "[", "%)", "kg\\", "m**", "1e9999 m"])
def test_text_that_is_no_unit_is_told_as_such_whatever_it_is(unit):
    with pytest.raises(ValueError, match="is not a unit of length"):
        to_kept(1.0, unit, "length")
