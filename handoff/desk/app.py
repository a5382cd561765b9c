"""The desk as a web application: its pages, its gate, and its error pages.

Input: a `Desk` and a `Gate`. Output: a Flask application. A missing name in a template is an error.
Every error page says what to do.
"""

import re
import secrets
import sys
import traceback
from importlib.resources import files

from flask import (
    Flask,
    Response,
    current_app,
    redirect,
    render_template,
    request,
    send_from_directory,
    url_for,
)
from jinja2 import StrictUndefined
from markupsafe import Markup, escape
from werkzeug.exceptions import HTTPException, NotFound
from werkzeug.wrappers import Response as Answer

from handoff.compose.words import WordingError
from handoff.desk import current
from handoff.desk.coming import coming
from handoff.desk.edits.failures import EditError
from handoff.desk.pages import (
    changing,
    drafts,
    entry,
    history,
    logs,
    mend,
    patient,
    printing,
    put_back,
    steps,
    unit,
    ward,
    weeks,
)
from handoff.desk.safety import FORM_KEY, Gate, guard
from handoff.desk.ward import Desk
from handoff.model.findings import text
from handoff.model.wording import DESK, shipped_templates

SHOWS_FAULTS = "HANDOFF_SHOWS_FAULTS"
FONTS = {"regular": "SourceSansPro-Regular.ttf", "semibold": "SourceSansPro-Semibold.ttf"}
FONT_AGE_S = 86_400

REFUSED, MOST_REFUSED = frozenset({409, 422}), 20
EXPLAINED = ("401", "403", "404", "405", "413", "421")  # answers with words of their own


class Pages(Flask):
    """Flask with strict templates. Its error messages never name a patient."""

    jinja_options = {"undefined": StrictUndefined, "trim_blocks": True, "lstrip_blocks": True}  # noqa: RUF012

    def log_exception(self, exc_info: object) -> None:  # noqa: ARG002 - sys.exc_info has it
        """A fault in one line; with --debug in full."""
        if self.config[SHOWS_FAULTS]:
            traceback.print_exc()
        else:
            kind = sys.exc_info()[0]
            sys.stderr.write(DESK.say("serve.fault", kind=kind.__name__ if kind else "") + "\n")


def make_app(desk: Desk, gate: Gate, *, debug: bool = False) -> Flask:
    """The application of one run."""
    folder = shipped_templates() / "desk"
    app = Pages("handoff.desk", template_folder=str(folder), static_folder=str(folder / "static"))
    app.config[SHOWS_FAULTS] = debug
    app.extensions[current.STATE] = current.State(desk)
    guard(app, gate)
    app.before_request(current.note_time)
    app.before_request(_refused_before)
    app.after_request(_at_an_address)
    app.context_processor(lambda: _shared(gate))
    app.add_template_filter(lambda words: words[:1].upper() + words[1:], "sentence")
    app.add_template_filter(lambda words: re.sub("[^a-z]+", "-", words).strip("-"), "key")
    app.add_template_filter(_with_keys, "keys")
    app.add_template_global(_say, "say")
    app.add_template_global(_script_words, "script_words")
    app.register_error_handler(HTTPException, lambda error: _page(error.code or 500))
    app.register_error_handler(EditError, lambda error: _page(409, str(error)))
    app.register_error_handler(WordingError, lambda error: _page(500, text(error.why)))
    _add_openings(app, gate)
    for pages in (
        ward,
        entry,
        steps,
        mend,
        history,
        logs,
        changing,
        patient,
        printing,
        drafts,
        put_back,
        unit,
        weeks,
    ):
        app.register_blueprint(pages.BLUEPRINT)
    return app


def _refused_before() -> tuple[bytes, int] | None:
    """The form that was refused, where the address names one that is still kept."""
    is_page = request.method == "GET"
    return current.state().refused.get(request.args.get("refused", "")) if is_page else None


def _at_an_address(response: Response) -> Answer:
    """A form that was refused is shown at an address: who comes back to it, or loads it again, is
    not asked by the browser whether to send it once more. A script reads the answer itself.
    """
    is_form = request.method == "POST" and request.headers.get("Sec-Fetch-Mode") == "navigate"
    if not is_form or response.status_code not in REFUSED:
        return response
    kept, key = current.state().refused, secrets.token_urlsafe(8)
    kept[key] = (response.get_data(), response.status_code)
    while len(kept) > MOST_REFUSED:
        del kept[next(iter(kept))]
    addresses, path = current_app.url_map.bind(""), request.path
    while path and not addresses.test(path, "GET"):
        path = path.rpartition("/")[0]
    return redirect(f"{path or '/'}?refused={key}", 303)


def _say(key: str, **values: object) -> Markup:
    """The sentence of a key; a value may be a link or the like, which is put in as it is."""
    return escape(DESK.sentences[key]).format(**values)


def _with_keys(words: Markup) -> Markup:
    """The words with each key in square brackets as one of the keyboard."""
    # As plain text: of a `Markup`, `re.sub` would escape the elements that it puts in.
    return Markup(re.sub(r"\[(.+?)\]", r"<kbd>\1</kbd>", str(words)))  # noqa: S704 - escaped before


def _script_words() -> dict[str, str]:
    """What the scripts say."""
    named = DESK.sentences.items()
    return {key.removeprefix("script."): each for key, each in named if key.startswith("script.")}


def _add_openings(app: Flask, gate: Gate) -> None:
    @app.get("/open")
    def opening() -> Answer | tuple[str, int]:
        way = gate.way(request.args.get("key", ""))
        return redirect(way, 303) if way else _page(401)

    @app.get("/enter")
    def entering() -> Answer | tuple[str, int]:
        if not gate.enters(request.args.get("key", "")):
            return _page(401)
        # A page, no redirect: a strict cookie is sent only with requests from the desk itself.
        style = url_for("static", filename="desk.css")
        response = Response(
            render_template("opening.html", address=url_for("ward.ward"), style=style)
        )
        gate.admit(response)
        return response

    @app.get("/fonts/<weight>.ttf")
    def font(weight: str) -> Answer:
        if weight not in FONTS:
            raise NotFound
        folder = str(files("font_source_sans_pro") / "files")
        return send_from_directory(folder, FONTS[weight], max_age=FONT_AGE_S)

    @app.get("/alive")
    def alive() -> tuple[str, int, dict[str, str]]:
        """A form requests this before it is sent, and compares the key with its own: another
        program may have taken the port of a desk that was closed.
        """
        return gate.form_key, 200, {"Content-Type": "text/plain"}

    @app.get("/favicon.ico")
    def icon() -> Answer:
        return redirect(url_for("static", filename="icon.svg"))


def _shared(gate: Gate) -> dict[str, object]:
    """The names that every template may use."""
    return {
        "form_key_name": FORM_KEY,
        "form_key": gate.form_key,
        "notice": current.notice(),
        "to_mend": current.rows_to_mend,
        "lost_logs": current.lost_logs,
        "gone_entries": put_back.gone_entries,
        "drafts": lambda: [*current.desk().drafts.all().values()],
        "coming": lambda: list(coming(current.desk().ward())),
    }


def _page(status: int, words: str = "") -> tuple[str, int]:
    """A page with one sentence. Reads no logs."""
    known = str(status) if str(status) in EXPLAINED else "500"
    sentence = words or DESK.say(f"answer.{known}")
    admitted = status not in {401, 421}
    return render_template("refused.html", sentence=sentence, admitted=admitted), status
