"""The commands, a module each: options -> results on standard output, findings, an exit code.

A command's module is imported when it is run, and with it the libraries that it needs: `check` and
`limits` load none of the heavy ones.
"""

from argparse import Namespace
from importlib import import_module


def run(options: Namespace) -> int:
    """Run the command that the options name; its exit code.

    Raises `Refused` where what was asked cannot be done.
    """
    return int(import_module(f"handoff.commands.{options.command}").run(options))
