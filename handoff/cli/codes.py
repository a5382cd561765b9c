"""`handoff codes`: every possible finding, with its severity and its words."""

from argparse import Namespace
from string import Formatter
from textwrap import fill

from handoff.cli.outcome import DONE, say
from handoff.model.codes import CODES
from handoff.model.wording import FINDINGS

WIDTH = 80
HEAD = """\
Every finding that handoff can report of a log, or of a unit's own limits and words.

error    a cell, a row or more is lost
warning  it is used as it is written, or as the finding says
note     nothing is lost

A word in braces stands for what a finding names there, such as {given}."""


def run(options: Namespace) -> int:  # noqa: ARG001 - this command has no options of its own
    """Print code, severity, message and fix of each."""
    parts = [HEAD]
    sentences = FINDINGS.sentences
    for code, severity in CODES.items():
        words = fill(
            f"{_plain(sentences[f'{code}.message'])} {_plain(sentences[f'{code}.fix'])}",
            WIDTH,
            initial_indent="    ",
            subsequent_indent="    ",
            break_on_hyphens=False,
        )
        parts.append(f"{code} ({severity})\n{words}")
    say("\n\n".join(parts))
    return DONE


def _plain(template: str) -> str:
    """The words with bare names of the values to fill in: `{most}` for `{most:,}`."""
    parts = Formatter().parse(template)
    return "".join(text + (f"{{{name}}}" if name else "") for text, name, _, _ in parts)
