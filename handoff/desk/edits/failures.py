"""Why a log cannot be changed, for the person at the desk: one sentence or two, with what to do."""


class EditError(Exception):
    """A log cannot be changed as asked; nothing was written. The message says what to do."""
