"""What was asked and cannot be done: the one exception that a user is meant to see.

Enters: why, and how to mend it. Leaves: `Refused`, which the command line and the desk say in one
line. What is wrong with a log is no exception but a `Finding`.
"""

from handoff.findings import Finding


class Refused(Exception):  # noqa: N818 - no error of the program
    """What was asked cannot be done; the message says why and how to mend it, less its full stop.

    `finding` says so instead where a file of the user's is wrong.
    """

    def __init__(self, message: str, finding: Finding | None = None) -> None:
        super().__init__(message)
        self.finding = finding
