"""`handoff desk`: the same program as pages in the browser of this machine."""

import os
from argparse import Namespace
from contextlib import nullcontext
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff import portable
from handoff.cli.logs import exchange_of
from handoff.cli.outcome import NOTHING_PRODUCED, exit_code, report, say
from handoff.compose.languages import UnitWords
from handoff.draw.paper import Typesetter
from handoff.limits.reading import load_limits
from handoff.model.refused import Refused
from handoff.run.sheets import Printing


def run(options: Namespace) -> int:
    """Serve until the desk is stopped."""
    limits, findings = load_limits(options.limits)
    exchange, of_codes = exchange_of(options)
    report([*findings, *of_codes])
    if limits is None or exchange is None:
        return NOTHING_PRODUCED
    if not all(map(find_spec, ("flask", "platformdirs", "waitress"))):
        raise Refused(
            "the desk needs three more packages; install them with: pip install 'handoff[desk]'"
        )
    folder = _folder(options)
    from handoff.desk.alone import only_desk  # noqa: PLC0415 - needs the packages
    from handoff.desk.serve import Serving, serve  # noqa: PLC0415
    from handoff.desk.ward import Setting  # noqa: PLC0415

    printing = Printing(
        paper=options.paper,
        language=options.language,
        templates=options.templates and str(Path(options.templates).resolve()),
        typesetter=Typesetter(options.font),
    )
    UnitWords(ZoneInfo("UTC"), options.language, options.templates)  # wrong ones end it here
    given = (options.unit, options.time_zone, options.shift, options.dates, options.newest)
    setting = Setting(Path(), limits, printing, *given, exchange=exchange, by=options.by)
    serving = Serving(options.port, options.idle, options.browser, options.debug)
    # A log in the folder goes by its file name, one from elsewhere by its full path.
    paths = [Path(log).resolve() for log in options.logs]
    logs = [str(each.relative_to(folder) if folder in each.parents else each) for each in paths]
    os.chdir(folder)
    with only_desk(folder) if options.documents else nullcontext() as page:
        if options.documents and page is None:
            say(f"The desk of {folder} is open already.")
        else:
            serve(setting, logs, replace(serving, page=page), partial(print, flush=True))
    return exit_code(findings)


def _folder(options: Namespace) -> Path:
    """The folder of the logs; that in the person's documents is made where it is not there."""
    folder = Path(options.folder).resolve()
    if options.documents:
        from platformdirs import user_documents_path  # noqa: PLC0415

        folder = user_documents_path().resolve() / "handoff"
        if not folder.exists():
            try:
                folder.parent.mkdir(parents=True, exist_ok=True)
                portable.make_folder(folder)
            except OSError as error:
                why = portable.reason(error)
                raise Refused(f"the folder {folder} cannot be made: {why}") from error
        if not folder.is_dir():
            raise Refused(f"{folder} is no folder; give that file another name")
    if not folder.is_dir():
        raise Refused(f"{options.folder} is no folder; give one with --folder")
    return folder
