"""What of the installed packages is bundled, and what is not."""

from collections.abc import Iterable
from pathlib import PurePosixPath

# The program does without each of these: other ways of drawing and of showing, what only makes or
# tests a package, libraries that are taken where they are there, and readline, which is under the
# GPL. `test_contents.py` prints without them.
EXCLUDED = [
    *("readline", "sqlite3", "tkinter", "IPython", "pytest", "setuptools", "pkg_resources"),
    *("pydoc_data", "lib2to3", "distutils", "ensurepip", "idlelib", "turtle"),
    *("dask", "distributed", "pyarrow", "scipy", "uharfbuzz", "numexpr", "bottleneck", "psycopg2"),
    *("matplotlib", "mpl_toolkits", "fontTools", "charset_normalizer", "chardet"),
    *("numpy.f2py", "numpy.testing", "numpy._core._multiarray_tests"),
    *("lxml.html", "lxml.isoschematron", "lxml.objectify", "lxml.sax", "lxml.builder"),
    *("PIL._avif", "PIL._webp", "PIL._imagingcms", "PIL._imagingft", "PIL._imagingtk"),
]
# Of the folders that hold fonts and more, the files that are read.
READ_ONLY_FROM = {
    "matplotlib/mpl-data": {"DejaVuSans.ttf", "DejaVuSans-Bold.ttf"},
    "font_source_sans_pro/files": {"SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf"},
    "lxml/isoschematron": set(),
    "reportlab/fonts": set(),
}


def needed(names: Iterable[str]) -> set[str]:
    """The names of the files that the program reads.

    A library that lies in the folder of its package is found there, and not needed above it too.
    """
    paths = {name: PurePosixPath(name.replace("\\", "/")) for name in names}
    in_folders = {path.name for path in paths.values() if path.parent.name.endswith(".libs")}
    return {
        name
        for name, path in paths.items()
        if str(path) not in in_folders
        and all(
            path.name in read
            for folder, read in READ_ONLY_FROM.items()
            if path.is_relative_to(folder)
        )
    }
