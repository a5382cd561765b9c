"""A language that nobody speaks: the English templates with every letter to be printed exchanged.

Letters a to z become Cyrillic ones, which the sheets' fonts have. Whatever Latin letter a page then
prints is not from the templates: it is from the log, a unit, or a word left in the code.
"""

from pathlib import Path

import yaml
from jinja2 import Environment

from handoff.model.wording import shipped_templates

LATIN = "abcdefghijklmnopqrstuvwxyz"
CYRILLIC = "абвгджзийклмнопрстуфхцчшщьюя"[: len(LATIN)]
EXCHANGED = str.maketrans(LATIN + LATIN.upper(), CYRILLIC + CYRILLIC.upper())
# A text stands in an expression to be printed after one of these; elsewhere it is held against.
PRINTED_AFTER = {"variable_begin", "else", "="}


def write_templates(folder: Path) -> Path:
    """Every template in the language, as a unit's own folder that leaves nothing English."""
    for path in sorted((shipped_templates() / "en").glob("*.yaml")):
        words = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)  # noqa: S506 - texts only
        # Which form goes with a number, and from which side it is read, is not printed.
        for name in ("plural", "direction"):
            if path.name == "discharge.yaml":
                words["language"].pop(name, None)
        own = yaml.safe_dump(_exchanged(words), allow_unicode=True)
        (folder / path.name).write_text(own, encoding="utf-8")
    return folder


def _exchanged(words: object) -> object:
    if isinstance(words, dict):
        return {key: _exchanged(value) for key, value in words.items()}
    return "".join(_tokens(str(words)))


def _tokens(template: str) -> list[str]:
    """The template token by token; of expressions only the texts that may be printed change."""
    tokens, before = [], ""
    for _, kind, text in Environment(autoescape=True).lex(template):
        printed = kind == "data" or (kind == "string" and before in PRINTED_AFTER)
        tokens.append(_letters(text) if printed else text)
        if kind != "whitespace":
            before = kind if kind == "variable_begin" else text
    return tokens


def _letters(text: str) -> str:
    """Exchanged but for what stands in square brackets, to be put in on the page."""
    parts = text.replace("]", "[").split("[")
    kept = [part if index % 2 else part.translate(EXCHANGED) for index, part in enumerate(parts)]
    return "".join(f"[{part}]" if index % 2 else part for index, part in enumerate(kept))
