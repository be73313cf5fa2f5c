"""`groovewright demo`: an invented workshop to look at."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import open_job_book
from groovewright.cli.serve import serve_until_stopped
from groovewright.cli.values import json_option, server_options

WORKSHOP = "The workshop at the lime tree (invented)"


@click.command(cls=Command)
@server_options
@click.option(
    "--data-dir",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the invented workshop; without it one beside your own job book, which is not touched.",
)
@json_option
def demo(*, port: int, open_browser: bool, data_dir: Path | None, as_json: bool) -> None:
    """Make an invented workshop with jobs in different states, and serve it on this machine.

    The same folder is served again the next time, with all that was entered. Delete it to begin anew.

    For example:
      groovewright demo --open
      groovewright demo --port 0 --data-dir /tmp/workshop
    """
    folder = open_job_book(data_dir or _beside_the_job_book())
    from groovewright.demo.book import make_demo_workshop
    from groovewright.web.report_page.issuing import issue

    make_demo_workshop(hand_over=lambda job: issue(job, workshop=WORKSHOP))
    serve_until_stopped(host="127.0.0.1", port=port, data_dir=folder, open_browser=open_browser, as_json=as_json)


def _beside_the_job_book() -> Path:
    from groovewright.site.data_dir import data_dir

    own = data_dir()
    return own.with_name(f"{own.name}-demo")
