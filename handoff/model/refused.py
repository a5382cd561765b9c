"""What was asked and cannot be done: the one exception that a user is meant to see.

Input: why, and how to mend it. Output: `Refused`, which the command line and the desk say in one
line. What is wrong with a log is no exception but a `Finding`.
"""

from handoff.model.findings import Finding


class Refused(Exception):  # noqa: N818 - no error of the program
    """What was asked cannot be done: why and how to mend it, in words less their full stop, or as
    the finding about a file of the user's."""

    def __init__(self, why: str | Finding) -> None:
        super().__init__(why)
        self.why = why

    def __str__(self) -> str:
        return self.why if isinstance(self.why, str) else self.why.message
