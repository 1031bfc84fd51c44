"""The command `oxlatch`: a table of commands in three groups, each loaded only when it is run.

The table carries the one-line helps, so `oxlatch --help` imports none of the libraries behind them.
"""

import importlib
from importlib.util import find_spec

import click

GROUPS = (
    (
        "Prove",
        (
            ("demo", "Fly one sortie on the virtual bench and show the first proof."),
            ("run", "Play scenarios; check what they expect and every invariant."),
            ("prove", "Prove the invariants on the controller's own source."),
            ("faults", "Fly every single fault and print the exposure grid."),
            ("panel", "Fly the virtual bench by hand in a browser."),
        ),
    ),
    (
        "Bench",
        (
            ("flash", "Put firmware and settings on a board and verify them."),
            ("watch", "Watch a board live over its serial link."),
            ("replay", "Step a recording through a controller and compare."),
            ("pull", "Fetch the journal from a board as a recording."),
        ),
    ),
    (
        "Plan and print",
        (
            ("plan", "Work out jets, flows, seconds and limits."),
            ("cards", "Print placards, altitude chart and checklists as drafts."),
            ("commission", "Commission step by step; keep results; judge logs."),
            ("evidence", "Collect every claim and what is not covered."),
        ),
    ),
)
FIRST = ("prove", "flash", "replay")
HELPS = {name: text for _group, rows in GROUPS for name, text in rows}


def is_installed(name: str) -> bool:
    """Whether this build carries the command's module."""
    return find_spec(f"oxlatch_tools.commands.{name}") is not None


class LazyCommands(click.Group):
    """A group that imports a command's module when the command is run and not before."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [name for name in HELPS if is_installed(name)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in HELPS or not is_installed(cmd_name):
            return None
        module = importlib.import_module(f"oxlatch_tools.commands.{cmd_name}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and self.get_command(ctx, args[0]) is None:
            ctx.fail(f"no command '{args[0]}'; there are {', '.join(self.list_commands(ctx))}.")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the three commands to know first, then the three groups."""
        present = set(self.list_commands(ctx))
        sections = (("Know these first", tuple((name, HELPS[name]) for name in FIRST)), *GROUPS)
        for title, rows in sections:
            shown = [row for row in rows if row[0] in present]
            if shown:
                with formatter.section(title):
                    formatter.write_dl(shown)


@click.command(
    cls=LazyCommands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="oxlatch", prog_name="oxlatch")
def main() -> None:
    """Arming and sequencing for a staged wet nitrous system: fuel is latched behind oxidizer.

    Every command takes --json. Exit code 0: what the command checks holds; 1: it does not; 2: bad input.
    """


if __name__ == "__main__":
    main()
