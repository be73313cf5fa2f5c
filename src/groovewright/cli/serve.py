"""`groovewright serve`: the workshop's pages."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_json
from groovewright.cli.refusal import refusing
from groovewright.cli.values import json_option, server_options


@click.command(cls=Command)
@server_options
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address to listen on; a wider one asks for a login."
)
@click.option(
    "--data-dir",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder of the job book; without it GROOVEWRIGHT_DATA_DIR or the usual place for your data.",
)
@json_option
def serve(*, port: int, open_browser: bool, host: str, data_dir: Path | None, as_json: bool) -> None:
    """Serve your job book as web pages, on this machine only unless --host says otherwise.

    It listens until Ctrl+C. With --json the one object says where, once the pages can be opened.

    For example:
      groovewright serve --open
      groovewright serve --port 0 --data-dir ~/workshop --json
    """
    serve_until_stopped(host=host, port=port, data_dir=data_dir, open_browser=open_browser, as_json=as_json)


def serve_until_stopped(*, host: str, port: int, data_dir: Path | None, open_browser: bool, as_json: bool) -> None:
    """Serve a job book and say where, in words or as one JSON object."""
    from groovewright.site.server import StartRefused
    from groovewright.site.server import serve as serve_workshop

    def listening(address: str, folder: Path) -> None:
        if as_json:
            print_json({"address": address, "data_dir": str(folder)})

    with refusing(StartRefused):
        serve_workshop(
            host,
            port,
            data_dir=data_dir,
            open_browser=open_browser,
            announce=lambda sentence: click.echo(sentence, err=as_json),
            listening=listening,
            new_password=_ask_for_password,
        )


def _ask_for_password() -> str:
    return str(click.prompt("New password for this workshop", hide_input=True, confirmation_prompt=True, err=True))
