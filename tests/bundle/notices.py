"""The licence texts of everything that is bundled, and of nothing else.

Input: the files of a bundle, each with where it comes from. Output: the text of `NOTICES.txt`.
Raises `Unlicensed` where a file is of nobody that is known, where its package comes without a
licence text, or where no text speaks of a library that is in the package. `licences/` has the texts
of what is compiled into a package that says nothing of it.
"""

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import Distribution, distributions
from pathlib import Path, PurePath

ROOT = Path(__file__).parents[2]
OWN_TEXTS = Path(__file__).parent / "licences"
COMMON = Path("/usr/share/common-licenses")  # which Debian's texts refer to
STARTS = ("licen", "copying", "notice", "authors", "ofl")
BEGINNING = (
    "This folder holds handoff, Python, and all that both need, each under its own licence below.",
    "Under the MPL is pikepdf; under the LGPL are python-bidi, libquadmath beside numpy, and iconv",
    "in lxml. Each is in files of its own under _internal, which you may replace by others.",
)
# What is compiled into the files of a package, by a word that its licence text has.
WITHIN = {
    "Python": ("Expat", "Mersenne Twister", "libmpdec"),
    "lxml": ("libxml2", "libxslt", "Jean-loup Gailly", "GNU LESSER"),
    "matplotlib": ("DejaVu",),
    "numpy": ("OpenBLAS", "LAPACK", "GCC runtime"),
    "pikepdf": ("Apache License", "jpeg"),
    "pillow": ("libjpeg", "TIFF", "OPENJPEG", "zlib"),
    "pyyaml": ("LibYAML",),
}
# The text of `licences/` with that word, for packages whose own texts have it not.
OWN = {
    **dict.fromkeys(WITHIN["Python"], "python"),
    "Jean-loup Gailly": "zlib",
    "GNU LESSER": "lgpl-2.1",
    "LibYAML": "libyaml",
    "Visual C++": "visual-cpp",
}


class Unlicensed(Exception):  # noqa: N818 - what it is, not an error of the program
    """Something would be bundled without its licence text; the message says what."""


@dataclass
class Part:
    """Something with a licence of its own, its texts, and its files in the bundle."""

    name: str
    version: str = ""
    texts: Sequence[Path] = ()
    files: list[str] = field(default_factory=list)


def notices(bundled: Mapping[str, Path]) -> str:
    """The text of the notices: a section for each part, in the order of their names."""
    parts = parts_of(bundled)
    sections = [section(parts[name]) for name in sorted(parts, key=str.casefold)]
    return "\n".join([*BEGINNING, "", *sections])


def parts_of(bundled: Mapping[str, Path]) -> dict[str, Part]:
    """The parts that files are of, by name; PyInstaller's starter is in every bundle."""
    owners = installed()
    parts: dict[str, Part] = {}
    tool = next((each for each in owners.values() if each.name == "pyinstaller"), None)
    if tool:
        parts[tool.name] = tool
    for name, path in bundled.items():
        real = path.resolve()
        part = owners.get(real) or of_program(real) or of_python(real) or of_system(real)
        if part is None:
            raise Unlicensed(f"{name} comes from {path}, which is of no known package")
        part = parts.setdefault(part.name, part)
        part.files.append(PurePath(name).as_posix())
    return parts


@cache
def installed() -> dict[Path, Part]:
    """The package of each installed file."""
    owners: dict[Path, Part] = {}
    for each in distributions():
        part = Part(each.name.lower(), each.version, licences_of(each))
        root = str(Path(str(each.locate_file(""))).resolve())
        owners |= {Path(root, file): part for file in each.files or ()}
    return owners


def licences_of(package: Distribution) -> list[Path]:
    """The files of a package that hold its licence, and those of what lies in it."""
    named = [
        file
        for file in package.files or ()
        if file.suffix not in {".py", ".pyc"}
        and (file.name.casefold().startswith(STARTS) or "licenses" in file.parts)
    ]
    paths = [Path(str(package.locate_file(file))) for file in named]
    return [path for path in paths if path.is_file()]


def of_program(path: Path) -> Part | None:
    """The program itself, for the files of this checkout."""
    if path.is_relative_to(ROOT):
        return Part("handoff", texts=[ROOT / "handoff" / "LICENSE"])
    return None


def of_python(path: Path) -> Part | None:
    """Python, for what was installed with it, and for the modules that PyInstaller packs."""
    base = Path(sys.base_prefix).resolve()
    if path.is_relative_to(base) or path.name == "base_library.zip":
        places = (base, base / "lib" / f"python{sys.version_info[0]}.{sys.version_info[1]}")
        texts = [place / "LICENSE.txt" for place in places]
        return Part("Python", sys.version.split()[0], [each for each in texts if each.exists()])
    return None


@cache
def of_system(path: Path) -> Part | None:
    """The package of Debian that a library of the system is from, with its text and what that
    refers to; None on other systems.
    """
    if shutil.which("dpkg-query") is None:
        return None
    for place in (path, Path("/", *path.parts[2:])):  # /usr/lib is known as /lib
        command = ["dpkg-query", "--search", str(place)]
        found = subprocess.run(command, capture_output=True, text=True, check=False).stdout
        if found:
            name = found.partition(":")[0]
            text = Path("/usr/share/doc", name, "copyright")
            referred = re.findall(rf"{COMMON}/([\w.-]*\w)", text.read_text(encoding="utf-8"))
            return Part(name, texts=[text, *(COMMON / each for each in sorted(set(referred)))])
    return None


def section(part: Part) -> str:
    """A heading and the texts. Raises `Unlicensed` where one is missing."""
    whole = "\n".join(text.read_text(encoding="utf-8", errors="replace") for text in part.texts)
    if not whole:
        raise Unlicensed(f"{part.name} comes without a licence text")
    for word in (*WITHIN.get(part.name, ()), *libraries_of(part)):
        if word.casefold() not in whole.casefold():
            if word not in OWN:
                raise Unlicensed(f"no licence text of {part.name} speaks of {word}")
            whole += "\n" + (OWN_TEXTS / f"{OWN[word]}.txt").read_text(encoding="utf-8")
    rule = "=" * 78
    return f"{rule}\n{part.name} {part.version}".rstrip() + f"\n{rule}\n\n{whole}"


def libraries_of(part: Part) -> Iterator[str]:
    """What the libraries that lie beside a package's modules are called in their licence texts:
    `qpdf` for `pikepdf.libs/libqpdf-781b0270.so.30.4.2`.
    """
    for file in part.files:
        folder, _, name = file.rpartition("/")
        if folder.endswith(".libs") and (
            found := re.match(r"(?:lib)?(?:scipy_)?([a-zA-Z]+)", name)
        ):
            yield "Visual C++" if found[1] in {"msvcp", "vcruntime"} else found[1]
