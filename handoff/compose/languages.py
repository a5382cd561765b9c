"""The languages that there are words in.

Input: nothing. Output: the codes that `--language` takes. Reads no template.
"""

from handoff.model.wording import shipped_templates


def languages() -> tuple[str, ...]:
    """The code of each language that has a folder of templates."""
    return tuple(sorted(path.parent.name for path in shipped_templates().glob("*/sheet.yaml")))
