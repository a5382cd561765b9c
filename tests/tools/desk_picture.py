"""The picture of the desk in the README.

Run as `python -m tests.tools.desk_picture sample_inputs/desk.png`.
"""

import sys
import tempfile
from io import BytesIO
from pathlib import Path

from PIL import Image

from tests.support.browsers import chromium, tab
from tests.support.logs import SAMPLES
from tests.support.servers import serving

TONES = 64  # the file stays small


def take(to: str) -> None:
    """The page of the gravest patient of the sample ward."""
    logs = sorted(str(path) for path in (SAMPLES / "ward").iterdir())
    with (
        tempfile.TemporaryDirectory() as folder,
        serving(Path(folder), *logs) as served,
        chromium() as browser,
        tab(browser, viewport={"width": 1280, "height": 840}, device_scale_factor=0.7) as page,
    ):
        page.goto(served.address)
        page.wait_for_url(f"{served.origin}/")
        page.locator("table.ward tbody th a").first.click()
        page.wait_for_load_state("networkidle")
        shot = Image.open(BytesIO(page.screenshot()))
    shot.convert("RGB").quantize(TONES).save(to, optimize=True)


if __name__ == "__main__":
    take(sys.argv[1])
