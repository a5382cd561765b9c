"""A request that cannot be carried out: the one exception that a user is meant to see.

Input: why, and how to mend it. Output: `Refused`, which the command line and the desk print in one
line. A fault in a log is a `Finding`, never an exception.
"""

from handoff.model.findings import Finding


class Refused(Exception):  # noqa: N818 - no error of the program
    """The request cannot be carried out. Says why and how to mend it: as words without a full stop,
    or as the finding about the user's own file.
    """

    def __init__(self, why: str | Finding) -> None:
        super().__init__(why)
        self.why = why

    def __str__(self) -> str:
        return self.why if isinstance(self.why, str) else self.why.message
