"""What was typed and is not saved yet: kept while somebody types, given back, thrown away.

Input: the fields of a form. Output: the drafts of this folder. Writes nothing into a log.
"""

from contextlib import suppress

from flask import Blueprint, Response, jsonify, request
from msgspec.structs import asdict
from werkzeug.wrappers import Response as Answer

from handoff.desk import current, drafts
from handoff.desk.drafts import Draft
from handoff.desk.edits.failures import EditError
from handoff.explain.text import local_time
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("drafts", __name__)
SAVED = {201, 303}  # a form that was carried out: in a list, and on a page of its own


@BLUEPRINT.get("/drafts")
def kept() -> Response:
    """All drafts, for the script that puts them back."""
    return jsonify([asdict(each) for each in current.desk().drafts.all().values()])


@BLUEPRINT.post("/drafts")
def keep() -> tuple[str, int]:
    """Keep what is in a form now; a form without a name has nothing that was typed."""
    name, address, words, typed = map(current.form, ("name", "address", "words", "typed"))
    is_own = address.startswith("/") and not address.startswith(("//", "/\\"))
    draft = Draft(name, address, words, typed, _now()) if name and is_own else None
    current.desk().drafts.keep(draft, current.form("was"))
    return "", 204


def _now() -> str:
    """The time by the clock of the first ward that is open, else of this machine."""
    now = current.desk().now().replace(second=0, microsecond=0)
    handovers = current.desk().ward().handovers
    return local_time(now, handovers[0].unit.time_zone) if handovers else drafts.now()


@BLUEPRINT.post("/drafts/throw-away")
def throw_away() -> Answer:
    """Throw a draft away."""
    current.desk().drafts.keep(None, current.form("name"))
    return current.go_to("ward.ward", DESK.say("done.draft-thrown-away"))


@BLUEPRINT.after_app_request
def forget_saved(response: Response) -> Response:
    """A form that was carried out needs no draft any more."""
    if request.method == "POST" and response.status_code in SAVED and request.form.get("draft"):
        # The row is written: that its draft stays is no reason to say that it is not.
        with suppress(EditError):
            current.desk().drafts.keep(None, request.form["draft"])
    return response
