"""What of the installed packages is bundled, and what is not."""

from pathlib import PurePath

# The program does without each of these: other ways of drawing and of showing, what only makes or
# tests a package, libraries that are taken where they are there, and readline, which is under the
# GPL. `test_contents.py` prints without them.
EXCLUDED = [
    *("readline", "sqlite3", "tkinter", "IPython", "pytest", "setuptools", "pkg_resources"),
    *("pydoc_data", "lib2to3", "distutils", "ensurepip", "idlelib", "turtle"),
    *("dask", "distributed", "pyarrow", "scipy", "uharfbuzz", "numexpr", "bottleneck", "psycopg2"),
    *("fontTools", "contourpy", "charset_normalizer", "mpl_toolkits"),
    *("matplotlib.pyplot", "matplotlib.figure", "matplotlib.backends.backend_agg"),
    *("matplotlib._qhull", "matplotlib._tri", "matplotlib._image", "matplotlib.font_manager"),
    *("numpy.f2py", "numpy.testing", "numpy._core._multiarray_tests"),
    *("lxml.html", "lxml.isoschematron", "lxml.objectify", "lxml.sax", "lxml.builder"),
    *("PIL._avif", "PIL._webp", "PIL._imagingcms", "PIL._imagingft", "PIL._imagingtk"),
]
# Of the folders that hold fonts and more, the files that are read.
READ_ONLY_FROM = {
    "matplotlib/mpl-data": {"matplotlibrc", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"},
    "font_source_sans_pro/files": {"SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf"},
    "lxml/isoschematron": set(),
    "reportlab/fonts": set(),
}


def is_needed(name: str, kind: str) -> bool:
    """Whether a file of the bundle is read by the program; its name, and PyInstaller's kind of it.

    A link beside the folder of a package's libraries is not: they find each other there.
    """
    path = PurePath(name).as_posix()
    read = [kept for folder, kept in READ_ONLY_FROM.items() if path.startswith(f"{folder}/")]
    return kind != "SYMLINK" and all(PurePath(path).name in kept for kept in read)
