"""The pictures of printed pages under sample_inputs/, made anew from the sample ward.

.venv/bin/python -m tests.tools.pictures
"""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pypdfium2
from PIL import Image

from handoff.cli import main as cli
from tests.support.logs import SAMPLES
from tests.support.unit_weeks import Unit, write_logs

DOTS_AN_INCH, TONES = 96, 16
FINER = 4  # times as many dots are drawn and then put together, so that letters keep their places
# Each picture, and the file whose first page it shows.
PICTURES: Mapping[str, str] = {
    "patient-sheet": "sheets/patients/bed-3A.pdf",
    "unit-summary": "sheets/unit-summary.pdf",
    "round-list": "sheets/round-list.pdf",
    "trends": "sheets/trends.pdf",
    "discharge-page": "sheets/discharge/bed-4B.pdf",
    "bedside-card": "cards/bedside-cards.pdf",
    "review": "review/review.pdf",
}
WEEKS = Unit(beds=20, days=56, changes_on=date(2026, 2, 2))  # invented, with a change in week 5


def refresh() -> None:
    """Print the sample ward and eight invented weeks, and take each picture in grey, as a printer
    without colour has it.
    """
    logs = sorted(str(path) for path in (SAMPLES / "ward").glob("*.yaml"))
    with TemporaryDirectory() as folder:
        weeks = Path(folder) / "weeks"
        weeks.mkdir()
        cli.main(["sheets", *logs, "--out", f"{folder}/sheets"])
        cli.main(["card", *logs, "--bed", "4B", "--out", f"{folder}/cards"])
        cli.main(["review", *write_logs(weeks, WEEKS, seed=1), "--out", f"{folder}/review"])
        for name, file in PICTURES.items():
            picture(Path(folder) / file).save(SAMPLES / f"{name}.png", optimize=True)


def picture(file: Path) -> Image.Image:
    """The first page, in few tones so that the file stays small."""
    with pypdfium2.PdfDocument(file) as pdf:
        page: Image.Image = pdf[0].render(scale=FINER * DOTS_AN_INCH / 72, grayscale=True).to_pil()
    return page.convert("L").reduce(FINER).quantize(TONES)


if __name__ == "__main__":
    refresh()
