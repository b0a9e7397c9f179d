"""The program ``hidewright``: one small module a command, registered here.

Command modules import nothing heavy at the top, so that ``--help`` answers at once. Exit status:
0 done; 1 the input is wrong or the result would not be valid; 2 usage; 3 done, but some pieces
found no room; 130 stopped with Ctrl-C.
"""

from __future__ import annotations

import sys

import typer

from cli import check, compare, demo, draft, export, keep, layout, mat, panel, photo, shelf, trace
from nesting.errors import HidewrightError

STOPPED = 130

app = typer.Typer(
    name="hidewright",
    help="Lay matching leather panels on a real hide: measure, place, count the cost, cut.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

for module in (demo, photo, mat, trace, panel, draft, layout, compare, export, check, keep, shelf):
    app.command(name=module.__name__.rpartition(".")[2])(module.run)


def main() -> None:
    """Run the command line; every expected error becomes one message and status 1."""
    try:
        app()
    except SystemExit as end:
        if end.code == STOPPED:
            print("hidewright: stopped", file=sys.stderr)
        raise
    except HidewrightError as error:
        fail(str(error))
    except OSError as error:
        fail(f"{error.filename}: {error.strerror}" if error.filename else str(error))


def fail(message: str) -> None:
    """One message on stderr, exit status 1."""
    print(f"hidewright: {message}", file=sys.stderr)
    raise SystemExit(1)
