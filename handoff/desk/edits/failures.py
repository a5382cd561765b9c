"""What a person is told when something cannot be done: one sentence or two, with what to do."""


class EditError(Exception):
    """A log cannot be changed as asked; nothing was written. The message says what to do."""
