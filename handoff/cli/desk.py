"""`handoff desk`: the same program as pages in the browser of this machine."""

import os
from argparse import Namespace
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

from handoff.cli.logs import exchange_of
from handoff.cli.outcome import NOTHING_PRODUCED, exit_code, report
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
    folder = Path(options.folder).resolve()
    if not folder.is_dir():
        raise Refused(f"{options.folder} is no folder; give one with --folder")
    if not all(map(find_spec, ("flask", "waitress"))):
        raise Refused(
            "the desk needs two more packages; install them with: pip install 'handoff[desk]'"
        )
    from handoff.desk.serve import Serving, serve  # noqa: PLC0415 - needs the two packages
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
    serve(setting, logs, serving, partial(print, flush=True))
    return exit_code(findings)
