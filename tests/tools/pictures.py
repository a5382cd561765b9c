"""The pictures of printed pages under sample_inputs/, made anew from the sample ward.

.venv/bin/python -m tests.tools.pictures
"""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pypdfium2
from PIL import Image

from handoff.cli import main as cli
from tests.support.logs import SAMPLES
from tests.support.unit_weeks import Unit, write_logs

DOTS_AN_INCH, SMALL_DOTS_AN_INCH, TONES = 96, 54, 16  # small where more than two pages stand
FINER = 4  # times as many dots are drawn and then put together, so that letters keep their places
LANGUAGES = ("es", "pl", "uk", "vi")  # of the page to take home, besides those of the sample ward
# Each picture, and the pages that it shows side by side: a file and the number of a page in it.
PICTURES: Mapping[str, Sequence[tuple[str, int]]] = {
    "patient-sheet": [("sheets/patients/bed-3A.pdf", 0)],
    "unit-summary": [("sheets/unit-summary.pdf", 0)],
    "round-list": [("sheets/round-list.pdf", 0)],
    "trends": [("sheets/trends.pdf", 0)],
    "discharge-page": [("sheets/discharge/bed-4B.pdf", page) for page in (0, 4)],
    "discharge-languages": [(f"{code}/discharge/bed-3B.pdf", 0) for code in LANGUAGES],
    "bedside-card": [("cards/bedside-cards.pdf", page) for page in (0, 1)],
    "review": [("review/review.pdf", 0)],
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
        for code in LANGUAGES:
            one = ["--bed", "3B", "--discharge", "3B", "--language", code]
            cli.main(["sheets", *logs, *one, "--out", f"{folder}/{code}"])
        for name, pages in PICTURES.items():
            shown = picture([(Path(folder) / file, number) for file, number in pages])
            shown.save(SAMPLES / f"{name}.png", optimize=True)


def picture(pages: Sequence[tuple[Path, int]]) -> Image.Image:
    """The pages side by side, in few tones so that the file stays small."""
    dots_an_inch = DOTS_AN_INCH if len(pages) <= 2 else SMALL_DOTS_AN_INCH
    images = []
    for file, number in pages:
        with pypdfium2.PdfDocument(file) as pdf:
            drawn = pdf[number].render(scale=FINER * dots_an_inch / 72, grayscale=True)
            images.append(drawn.to_pil().convert("L").reduce(FINER))
    whole = Image.new("L", (sum(each.width for each in images), images[0].height))
    for number, each in enumerate(images):
        whole.paste(each, (number * each.width, 0))
    return whole.quantize(TONES)


if __name__ == "__main__":
    refresh()
