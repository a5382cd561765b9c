"""Words by key: sentences of a file of `templates/en/` with named values.

Input: a key such as `not-a-time.message`, and the values that its sentence names in braces. Output:
the sentence. A file is read when its first word is wanted, and never again: a log without a finding
is read without it. The words of the pages, which are templates, are those of `compose`.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from handoff.model.frozen import Frozen

if TYPE_CHECKING:
    import yaml


class Wording(Frozen):
    """The words of one file, by its name without `.yaml`."""

    name: str

    def say(self, key: str, /, **values: object) -> str:
        """The sentence of a key, with `values` put in as they are.

        Raises `KeyError` for a key that the file does not have, and for a value that is not given.
        """
        return self.sentences[key].format_map(values)

    @property
    def sentences(self) -> Mapping[str, str]:
        """Every sentence by its key, in the file's order, its values still in braces."""
        return _sentences(self.name)


ENGLISH = "en"
FINDINGS, DESK = Wording("findings"), Wording("desk")
EXPLAIN, JUDGE = Wording("explain"), Wording("judge")


def shipped_templates() -> Path:
    """The folder of all words: inside the package in a wheel, beside it in a checkout."""
    package = Path(__file__).parent.parent
    packaged = package / "templates"
    return packaged if packaged.is_dir() else package.parent / "templates"


@cache
def _sentences(name: str) -> Mapping[str, str]:
    import yaml  # noqa: PLC0415 - loaded when the first word is wanted

    text = (shipped_templates() / ENGLISH / f"{name}.yaml").read_text(encoding="utf-8")
    node = yaml.compose(text, getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return dict(_flat(node, "")) if node else {}


def _flat(node: "yaml.Node", key: str) -> Iterator[tuple[str, str]]:
    if isinstance(node.value, str):
        yield key, node.value
    else:
        for name, value in node.value:
            yield from _flat(value, f"{key}.{name.value}" if key else name.value)
