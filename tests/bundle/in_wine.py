"""The bundle for Windows, built and tried in Wine on Linux by `build.py`.

Run as `python -m tests.bundle.in_wine FOLDER`. FOLDER is kept between runs: it gets what
`tests/windows/run.py` sets up, and PyInstaller for Windows. The bundle is then in `FOLDER/bundle`.
"""

import shutil
import sys
from pathlib import Path

from tests.windows import run

TOOLS = ("pyinstaller", "pyinstaller-hooks-contrib", "pefile", "pywin32-ctypes", "altgraph")


def main(folder: Path) -> int:
    """Set up what is not there yet, build and try; 0 where all went well."""
    run.main(folder, ["--set-up"])
    site, python = folder / "site", folder / "python"
    if not (site / "PyInstaller").exists():
        system = ("--python-platform", "x86_64-pc-windows-msvc", "--python-version", "3.11")
        install = (sys.executable, "-m", "uv", "pip", "install", "--quiet", "--no-deps")
        packages = ("--only-binary", ":all:", "--target", site, *TOOLS, "setuptools")
        run.done(*install, *system, *packages)
    if not (python / "Lib").exists():
        # PyInstaller looks for the standard library's files, which this Python has in an archive.
        shutil.unpack_archive(python / "python311.zip", python / "Lib")
    paths = python / "python311._pth"  # which the set-up writes each time
    paths.write_text(paths.read_text().replace("python311.zip", "Lib"))
    for documents in (folder / "prefix" / "drive_c" / "users").glob("*/Documents"):
        if documents.is_symlink():  # to those of whoever builds
            documents.unlink()
            documents.mkdir()
        shutil.rmtree(documents / "handoff", ignore_errors=True)  # of a try that failed
    return run.wine(folder, "-X", "utf8", "-m", "tests.bundle.build", str(folder / "bundle"))


if __name__ == "__main__":
    if len(sys.argv) == 1:
        sys.exit(__doc__)
    sys.exit(main(Path(sys.argv[1]).resolve()))
