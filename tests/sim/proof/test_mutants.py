"""Every mutant is noticed or explained, and the machinery that says so would notice if it were not."""

import ast
from dataclasses import replace
from types import SimpleNamespace

import pytest

from oxlatch import gate, sense_volts
from oxlatch_sim.proof.mutant_arguments import Arguments, Overtime, limited
from oxlatch_sim.proof.mutant_same import difference
from oxlatch_sim.proof.mutant_source import MODULES, Mutant, applied, mutants_in, mutants_of
from oxlatch_sim.proof.mutants import (
    EQUIVALENT_PATH,
    SAMPLE_SHARE,
    chosen,
    equivalents,
    judge,
    judge_mutants,
    key_of,
    read_equivalents,
    unused_lines,
)

SEED = 3


@pytest.fixture(scope="module")
def arguments() -> Arguments:
    return Arguments(light=True)


def mutant_of(module: str, before: str, after: str) -> Mutant:
    (found,) = [one for one in mutants_of(module) if (one.before, one.after) == (before, after)]
    return found


def changes_in(text: str) -> list[tuple[str, str, str]]:
    return [(one.kind, one.before, one.after) for one in mutants_in("example", text)]


def explained() -> Mutant:
    """A mutant of the gate that the file lists and the solver proves the same."""
    return next(one for one in mutants_of("gate") if key_of(one) in equivalents())


def test_every_mutant_of_the_gate_and_one_in_twenty_of_the_rest_is_noticed_or_explained(arguments):
    mutants = chosen(MODULES, SAMPLE_SHARE, seed=SEED, whole=("gate",))
    report = judge_mutants(mutants, arguments=arguments)
    print(report.row())
    assert report.problems() == []
    assert len(report.judged) == len(mutants) > 350
    assert report.killed_by["replay"] > 0.8 * len(mutants)


def test_the_tick_is_made_of_the_modules_that_the_controller_imports():
    wanted = {"gate", "permits", "core", "pilot", "purge", "trip", "flow", "sequencer", "controller", "sense"}
    assert wanted <= set(MODULES)
    assert not {"vocabulary", "reasons", "settings"} & set(MODULES)


def test_every_line_of_the_file_fits_a_mutant_and_has_a_reason():
    assert unused_lines(MODULES, equivalents()) == []
    assert all(len(reason.split()) >= 5 for reason in equivalents().values())


def test_a_line_that_fits_no_mutant_is_told():
    gone = {("gate", "gate_step", "line that was", "line that would be"): "it was there once"}
    assert unused_lines(("gate",), gone) == ["gate | gate_step | line that was | line that would be"]


def test_a_line_listed_twice_or_without_reason_is_an_error(tmp_path):
    row = '[[mutant]]\nmodule = "gate"\nfunction = "f"\nline = "a"\nafter = ["b"]\nreason = "{}"\n'
    for text in (row.format("because") * 2, row.format("")):
        path = tmp_path / EQUIVALENT_PATH.name
        path.write_text(text)
        with pytest.raises(ValueError, match=r"gate \| f \| a \| b"):
            read_equivalents(path)


def test_a_mutant_wrongly_listed_is_told(arguments):
    mutant = mutant_of("gate", "if not ask_ox:", "if False:")
    judged = judge(mutant, arguments, {key_of(mutant): "nobody would ever ask for that"})
    assert judged.fate == "wrongly listed" and "replay" in judged.reason


def test_a_mutant_nobody_explained_survives_in_words(arguments):
    judged = judge(explained(), arguments, {})
    assert judged.fate == "survived" and "proves" in judged.reason


def test_an_explained_mutant_needs_no_run():
    never = SimpleNamespace(fate_of=None)
    judged = judge(explained(), never, equivalents())
    assert judged.fate == "equivalent" and judged.is_proved and judged.reason


def test_a_moved_line_keeps_its_explanation():
    mutant = explained()
    assert key_of(replace(mutant, line=mutant.line + 40, text="\n" + mutant.text)) == key_of(mutant)


def test_the_solver_names_the_words_that_a_mutant_changes():
    found = difference(mutant_of("gate", "g.away_n += 1", "g.away_n += 2"))
    assert found is not None and "gate.away_n" in found.words
    assert difference(explained()) is None


def test_a_mutant_is_in_place_only_inside_its_context():
    mutant = mutant_of("gate", "if not ask_ox:", "if False:")
    asked = (0, 0, 1, 1, 0, 6, 1)
    usual = gate.gate_stage(*asked)
    with applied(mutant.module, mutant.text):
        assert gate.gate_stage(*asked) != usual
    assert gate.gate_stage(*asked) == usual


def test_a_changed_constant_reaches_every_module_that_imported_it():
    before = sense_volts.CALM_DEAD
    mutant = mutant_of("sense_volts", "CALM_DEAD = 1", "CALM_DEAD = 2")
    with applied(mutant.module, mutant.text):
        assert sense_volts.CALM_DEAD == 2
    assert before == sense_volts.CALM_DEAD


EXAMPLE = """
def f(s, c):
    if s.n < c.limit and s.on:
        s.n += 1
        return 0
    s.bits = s.bits & ~4
    return s.n
"""

MADE = {
    ("comparison", "if s.n <= c.limit and s.on:"),
    ("and/or", "if s.n < c.limit or s.on:"),
    ("condition dropped", "if s.on:"),
    ("condition dropped", "if s.n < c.limit:"),
    ("condition", "if True:"),
    ("condition", "if False:"),
    ("arithmetic", "s.n -= 1"),
    ("constant", "s.n += 2"),
    ("constant", "s.n += 0"),
    ("constant", "return 1"),
    ("line gone", "pass"),
    ("bits", "s.bits = s.bits | ~4"),
    ("bits", "s.bits = s.bits & 4"),
    ("constant", "s.bits = s.bits & ~5"),
    ("constant", "s.bits = s.bits & ~3"),
    ("early return", "return return s.n"),
}


def test_the_generator_makes_every_kind_of_change_once():
    made = [(kind, after) for kind, before, after in changes_in(EXAMPLE) if before != after]
    assert set(made) == MADE
    assert len(changes_in(EXAMPLE)) == len(made) == len(MADE) + 3  # four lines can go


def test_a_tick_that_never_ends_is_noticed():
    def endless() -> None:
        while True:
            pass

    with pytest.raises(Overtime), limited(0.05):
        endless()


def test_every_changed_text_is_a_module():
    for mutant in mutants_of("gate"):
        assert ast.unparse(ast.parse(mutant.text)) + "\n" == mutant.text
