"""Why a log cannot be changed, for the person at the desk: one sentence or two, with what to do."""

from handoff.model.wording import DESK


class EditError(Exception):
    """A log cannot be changed as asked; nothing was written. The message, by its key under
    `refusal` in the words of the desk, says what to do.
    """

    def __init__(self, key: str, **values: object) -> None:
        super().__init__(DESK.say(f"refusal.{key}", **values))
