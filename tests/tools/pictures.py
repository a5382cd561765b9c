"""The pictures of printed pages under sample_inputs/, made anew from the sample ward.

.venv/bin/python -m tests.tools.pictures
"""

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

import pypdfium2
from PIL import Image

from handoff.cli import main as cli
from tests.support.logs import SAMPLES

DOTS_AN_INCH, TONES = 96, 16
FINER = 4  # times as many dots are drawn and then put together, so that letters keep their places
# Each picture, and the file whose first page it shows.
PICTURES: Mapping[str, str] = {
    "patient-sheet": "patients/bed-3A.pdf",
    "unit-summary": "unit-summary.pdf",
    "round-list": "round-list.pdf",
    "trends": "trends.pdf",
    "discharge-page": "discharge/bed-4B.pdf",
}


def refresh() -> None:
    """Print the sample ward, and take each picture in grey, as a printer without colour has it."""
    logs = sorted(str(path) for path in (SAMPLES / "ward").glob("*.yaml"))
    with TemporaryDirectory() as folder:
        cli.main(["sheets", *logs, "--out", f"{folder}/out"])
        for name, file in PICTURES.items():
            picture(Path(folder) / "out" / file).save(SAMPLES / f"{name}.png", optimize=True)


def picture(file: Path) -> Image.Image:
    """The first page, in few tones so that the file stays small."""
    with pypdfium2.PdfDocument(file) as pdf:
        page: Image.Image = pdf[0].render(scale=FINER * DOTS_AN_INCH / 72, grayscale=True).to_pil()
    return page.convert("L").reduce(FINER).quantize(TONES)


if __name__ == "__main__":
    refresh()
