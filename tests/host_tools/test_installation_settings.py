"""From the installation to the settings record."""

import binascii
import functools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxlatch import settings as record
from oxlatch import vocabulary as words
from oxlatch_sim.inputs import INPUT_BITS
from oxlatch_tools import installation_settings
from oxlatch_tools.installation import InstallationError, example, load_installation, parse_installation
from oxlatch_tools.installation_fitted import not_fitted
from oxlatch_tools.installation_settings import packed_fields, record_bytes, settings_of

TUG = example("alpine_tug").read_text(encoding="utf-8")
VALLEY = example("valley_two_seater").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["alpine_tug", "valley_two_seater"])
def test_the_record_is_accepted_by_the_controller_and_ends_with_a_crc32(name):
    packed = record_bytes(settings_of(load_installation(example(name))))
    assert record.unpack(packed, record.Settings()) == record.GOOD
    assert int.from_bytes(packed[-4:], "little") == binascii.crc32(packed[:-4])


def test_thresholds_are_absolute_millivolts_of_the_fitted_sensor():
    tug = settings_of(parse_installation(TUG))
    # 38 bar on an absolute 0 to 100 bar sensor: 500 + 4000 * 0.38
    assert tug.supply_cut_mv == 2020
    # 0.5 bar less 12 % on 0 to 1.6 bar: 500 + 4000 * 0.275
    assert tug.fuel_cut_mv == 1600
    assert tug.throttle_full_mv == 4300


def test_a_gauge_sensor_reads_one_atmosphere_less():
    absolute = settings_of(parse_installation(TUG))
    gauge = settings_of(
        parse_installation(TUG.replace('"100 bar", reference = "absolute"', '"100 bar", reference = "gauge"'))
    )
    assert absolute.supply_cut_mv - gauge.supply_cut_mv == pytest.approx(4000 * 1.01325 / 100, abs=1)


def test_the_digest_travels_in_the_record():
    installation = parse_installation(TUG)
    packed = settings_of(installation)
    assert f"{packed.installation_high:04x}{packed.installation_low:04x}" == installation.digest


def test_only_tested_patterns_are_in_the_mask():
    without_air = TUG.replace('"air data", ', "")
    assert settings_of(parse_installation(without_air)).patterns == 0b01111110
    assert settings_of(parse_installation(VALLEY)).patterns == 0b0110
    untested = without_air[: without_air.index("[[tested.patterns]]")]
    assert settings_of(parse_installation(untested)).patterns == 0


def test_fitted_bits_and_the_claims_that_are_lost_agree():
    valley = parse_installation(VALLEY)
    assert not settings_of(valley).fitted & words.FIT_MASTER_FUEL
    for aircraft in (valley, parse_installation(TUG)):
        missing = {part.part for part in not_fitted(aircraft)}
        assert missing == set(INPUT_BITS) - set(aircraft.sensors.fitted)
        word = settings_of(aircraft).fitted
        assert word == words.FIT_ALL & ~sum(INPUT_BITS[part] for part in missing)


def test_rounding_falls_to_the_cautious_side():
    text = TUG.replace('supply_cut = "38 bar"', 'supply_cut = "38.001 bar"')
    text = text.replace('supply_top = "69 bar"', 'supply_top = "68.999 bar"')
    text = text.replace('lead = "30 ms"', 'lead = "31 ms"').replace('tail = "5 ms"', 'tail = "39 ms"')
    packed = settings_of(parse_installation(text))
    assert (packed.supply_cut_mv, packed.supply_top_mv) == (2021, 3259)
    assert (packed.lead_ticks, packed.tail_ticks) == (7, 7)


def test_a_value_the_record_cannot_hold_is_explained_in_words():
    text = TUG.replace('block_drop = "5 %"', 'block_drop = "0.1 %"')
    with pytest.raises(InstallationError) as caught:
        settings_of(parse_installation(text))
    (problem,) = caught.value.problems
    assert problem.field == "limits.block_drop"
    assert "1 mV for block_drop_mv" in problem.found
    assert problem.allowed == "10 to 2000 mV"


def test_thresholds_that_fall_together_on_a_coarse_sensor_are_refused():
    text = TUG.replace('supply_leave = "43 bar"', 'supply_leave = "43.99 bar"')
    text = text.replace('full_scale = "100 bar"', 'full_scale = "390 bar"')
    with pytest.raises(InstallationError) as caught:
        settings_of(parse_installation(text))
    (problem,) = caught.value.problems
    assert problem.field == "limits.supply_warn"
    assert problem.allowed == "supply_warn_mv above supply_leave_mv"


@given(st.data())
@settings(max_examples=300, deadline=None)
def test_the_rules_in_words_are_exactly_the_rules_of_the_controller(data):
    fields = dict(packed_once())
    settings_object = record.Settings()
    for name, packed in fields.items():
        setattr(settings_object, name, packed.value)
    chosen = data.draw(st.lists(st.sampled_from(record.FIELDS), min_size=1, max_size=3))
    for name, _unit, low, high, _default in chosen:
        if name in ("stages", "patterns", "fitted"):  # the rules over these are tried by hand above and below
            continue
        near = [getattr(settings_object, other[0]) for other in record.FIELDS if other[1] == _unit]
        value = data.draw(st.sampled_from([v + d for v in near for d in (-1, 0, 1)]))
        value = min(max(value, low), high)
        setattr(settings_object, name, value)
        fields[name] = installation_settings.Packed(value, "drawn")
    in_words = not list(installation_settings.broken_rules(fields))
    assert in_words == record.in_bounds(settings_object)


@functools.cache
def packed_once():
    return packed_fields(parse_installation(TUG))
