"""The `groovewright` command, whose parts are imported only when they are called."""

from __future__ import annotations

import os
from importlib import import_module
from typing import Any

import click

from groovewright.cli.help_page import keeping_example_lines
from groovewright.cli.refusal import Refusal

# Our matrices are small: threads of the linear algebra wait for each other far longer than they compute. Read by numpy
# as it is loaded, which no command has done yet here.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


class LazyGroup(click.Group):
    """A group that knows where its commands are and imports one when it is needed.

    Parameters
    ----------
    places : dict of str to str
        Module and attribute of each command, such as ``"groovewright.cli.align:align"``.
    """

    def __init__(self, *args: Any, places: dict[str, str], **options: Any) -> None:
        super().__init__(*args, **options | {"help": keeping_example_lines(options.get("help"))})
        self.places = places

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands in the order in which a job needs them."""
        return list(self.places)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of a name; None if there is none."""
        if cmd_name not in self.places:
            return None
        module, _, attribute = self.places[cmd_name].partition(":")
        command = getattr(import_module(module), attribute)
        assert isinstance(command, click.Command)
        return command

    def make_context(self, *args: Any, **options: Any) -> click.Context:
        """Return the context of a call; what is wrong with its words is said in one sentence."""
        try:
            return super().make_context(*args, **options)
        except click.UsageError as error:
            raise _in_one_sentence(error) from error

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; what is wrong with its words is said in one sentence."""
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            raise _in_one_sentence(error) from error


def _in_one_sentence(error: click.UsageError) -> click.ClickException:
    # A group called without a command shows its help, which is no mistake.
    return error if isinstance(error, click.exceptions.NoArgsIsHelpError) else Refusal(error.format_message())


@click.command(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    places={
        "align": "groovewright.cli.align:align",
        "plate": "groovewright.cli.plate:plate",
        "force": "groovewright.cli.force:force",
        "side-force": "groovewright.cli.side_force:side_force",
        "trace": "groovewright.cli.trace:trace",
        "stack": "groovewright.cli.stack:stack",
        "resonance": "groovewright.cli.resonance:resonance",
        "capture": "groovewright.cli.capture:capture",
        "state": "groovewright.cli.state:state",
        "next": "groovewright.cli.next:next_command",
        "simulate": "groovewright.cli.simulate:simulate",
        "serve": "groovewright.cli.serve:serve",
        "demo": "groovewright.cli.demo:demo",
        "job": "groovewright.cli.job:job",
    },
)
@click.version_option(package_name="groovewright")
def main() -> None:
    """Set up record players: geometry, plates, forces, verdicts and reports.

    Values carry their unit ("222 mm", "8 3/4 in", "1.85 g") and, after +-, one standard uncertainty ("222 mm +- 0.3
    mm"; "+- 0.6 mm (k=2)" says that it is two). Every command takes --json. Bad input ends with exit code 2.

    For example:
      groovewright align --pivot-to-spindle "222 mm +- 0.3 mm"
    """
