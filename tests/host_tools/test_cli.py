"""The command line: its help, the envelope, exit codes, and how bad input ends."""

import json
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from oxlatch_tools.cli import FIRST, GROUPS, HELPS, is_installed, main
from oxlatch_tools.outcome import (
    BadInput,
    Outcome,
    bad_input_from,
    envelope,
    json_option,
    reporting,
    write_output,
)

ENVELOPE = {"format", "command", "ok", "exit", "installation", "firmware", "build", "problems", "result"}


@click.command("try")
@click.option("--say", default="good")
@json_option
@reporting("try")
def attempt(say: str, as_json: bool) -> Outcome:
    """A command that does what it is told."""
    with bad_input_from(KeyError):
        if say == "refuse":
            raise BadInput("file x.toml, line 3: found 'y'; allowed are 'z'")
        if say == "key":
            raise KeyError("lower layer")
        if say == "crash":
            raise RuntimeError("a defect")
    problems = [] if say == "good" else ["it does not hold"]
    return Outcome("try", ok=say == "good", result={"said": say}, problems=problems)


@pytest.mark.parametrize(("say", "code"), [("good", 0), ("bad", 1), ("refuse", 2), ("key", 2)])
def test_exit_code_says_holds_does_not_hold_or_bad_input(say: str, code: int) -> None:
    plain = CliRunner().invoke(attempt, ["--say", say])
    machine = CliRunner().invoke(attempt, ["--say", say, "--json"])
    assert plain.exit_code == machine.exit_code == code
    answer = json.loads(machine.stdout)
    assert set(answer) == ENVELOPE
    assert (answer["exit"], answer["ok"]) == (code, code == 0)
    assert bool(answer["problems"]) == (code != 0)


def test_bad_input_is_one_message_without_a_traceback() -> None:
    result = CliRunner().invoke(attempt, ["--say", "refuse"])
    assert result.stdout == ""
    assert result.stderr == "oxlatch try: file x.toml, line 3: found 'y'; allowed are 'z'\n"


def test_a_defect_is_not_dressed_up_as_bad_input() -> None:
    assert isinstance(CliRunner().invoke(attempt, ["--say", "crash"]).exception, RuntimeError)


def test_envelope_carries_installation_and_firmware_digest() -> None:
    found = envelope(Outcome("plan", ok=True, installation="0123abcd", firmware="89ab4567"))
    assert (found["installation"], found["firmware"], found["exit"]) == ("0123abcd", "89ab4567", 0)


def test_an_output_folder_that_is_a_file_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(BadInput, match="cannot be written"):
        write_output(tmp_path / "out", "x.txt", "text")


def test_an_output_file_replaces_the_earlier_one_whole(tmp_path: Path) -> None:
    write_output(tmp_path / "out", "x.txt", "earlier")
    assert write_output(tmp_path / "out", "x.txt", "later").read_text() == "later"
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["x.txt"]


def test_help_shows_the_first_three_then_the_groups_in_order() -> None:
    shown = CliRunner().invoke(main, ["--help"]).stdout
    present = [f"\n  {name} " for name in (*FIRST, *HELPS) if is_installed(name)]
    at = -1
    for row in present:
        at = shown.index(row, at + 1)
    titles = [title for title, rows in GROUPS if any(is_installed(name) for name, _text in rows)]
    assert [shown.index(f"{title}:") for title in titles] == sorted(shown.index(f"{title}:") for title in titles)


def test_help_lists_only_commands_that_this_build_carries() -> None:
    shown = CliRunner().invoke(main, ["--help"]).stdout
    for name in HELPS:
        assert (f"\n  {name} " in shown) == is_installed(name)


def test_help_imports_no_library_behind_a_command() -> None:
    code = (
        "import sys, oxlatch_tools.cli as cli\n"
        "from click.testing import CliRunner\n"
        "assert CliRunner().invoke(cli.main, ['--help']).exit_code == 0\n"
        "heavy = {'numpy', 'matplotlib', 'CoolProp', 'z3', 'pint', 'pydantic', 'starlette'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_an_unknown_command_is_bad_input_that_names_the_known_ones() -> None:
    result = CliRunner().invoke(main, ["sing"])
    assert result.exit_code == 2
    assert "'sing'" in result.output and "run" in result.output


def commands_installed() -> list[str]:
    return [name for name in HELPS if is_installed(name)]


@pytest.mark.parametrize("name", commands_installed())
def test_every_command_has_help_and_json(name: str) -> None:
    shown = CliRunner().invoke(main, [name, "--help"])
    assert shown.exit_code == 0
    assert "--json" in shown.stdout


@pytest.mark.parametrize("name", commands_installed())
def test_the_help_of_a_command_is_the_line_of_the_table(name: str) -> None:
    command = main.get_command(click.Context(main), name)  # type: ignore[attr-defined]
    assert command is not None and command.name == name
