"""The folder of templates, and the languages in it.

Input: nothing. Output: a path, and the codes that `--language` takes. Reads no template.
"""

from pathlib import Path


def shipped_templates() -> Path:
    """The folder of templates: inside the package in a wheel, beside it in a checkout."""
    package = Path(__file__).parent.parent
    packaged = package / "templates"
    return packaged if packaged.is_dir() else package.parent / "templates"


def languages() -> tuple[str, ...]:
    """The code of each language that has a folder of templates."""
    return tuple(sorted(path.parent.name for path in shipped_templates().glob("*/sheet.yaml")))
