"""Words that tell which branches of their templates were rendered.

Every `if` and `elif` of a template, and every inline `x if y else z`, has a branch taken where its
condition holds and one where it does not, named `template:line:number:yes` or `:no`. A mark is put
into what is rendered there, noted, and taken out before the words are handed on. The names of the
words that were said are noted too.
"""

import re
from collections.abc import Callable
from functools import cache
from itertools import count
from types import CodeType
from zoneinfo import ZoneInfo

from jinja2 import nodes

from handoff.compose.facts import Facts
from handoff.compose.words import Words, _environment, _not_known_yet

MARK = re.compile("\x00(.*?)\x01")


class WatchedWords(Words):
    """As `Words`; `branches` holds all that were compiled, `seen` those that were rendered."""

    def __init__(self, zone: ZoneInfo, seen: set[str]) -> None:
        self.seen = seen
        self.branches: set[str] = set()
        super().__init__(zone)

    def say(self, name: str, facts: Facts | None = None, /, **more: object) -> str:
        said = super().say(name, facts, **more)
        self.seen.add(name)
        if "\x00" not in said:
            return said
        branches, unmarked = _without_marks(said)
        self.seen |= branches
        return unmarked

    @property
    def names(self) -> set[str]:
        """The names of all words that there are."""
        return set(self._sources)

    def compile_all(self) -> None:
        for name in self._sources:
            self._compile(name)

    def _compile(self, name: str) -> Callable[..., str]:
        if name not in self._sources or "{" not in self._sources[name][0]:
            return super()._compile(name)
        code, branches = _watched(name, self._sources[name][0], tuple(self._filters))
        self.branches |= branches
        self._compiled[name] = self._filling(code)
        return self._compiled[name]


@cache
def _without_marks(said: str) -> tuple[frozenset[str], str]:
    return frozenset(MARK.findall(said)), " ".join(MARK.sub("", said).split())


@cache
def _watched(name: str, source: str, filters: tuple[str, ...]) -> tuple[CodeType, set[str]]:
    """The compiled template with its marks, the same for every zone, and its branches."""
    environment = _environment(isolates=False)
    environment.filters.update(dict.fromkeys(filters, _not_known_yet))
    tree = environment.parse(source)
    branches: set[str] = set()
    numbers = count(1)
    for node in tree.find_all((nodes.If, nodes.CondExpr)):
        branch = f"{name}:{node.lineno}:{next(numbers)}"
        branches |= {f"{branch}:yes", f"{branch}:no"}
        if isinstance(node, nodes.If):
            _watch_if(node, branch)
        elif isinstance(node, nodes.CondExpr):
            _watch_inline(node, branch)
    return environment.compile(tree), branches


def _watch_if(node: nodes.If, branch: str) -> None:
    """Mark both ways; an `elif` becomes an `if` of its own within the other way."""
    node.body = [_mark(f"{branch}:yes"), *node.body]
    otherwise = node.else_
    if node.elif_:
        first, *rest = node.elif_
        first.elif_, first.else_ = rest, node.else_
        otherwise = [first]
    node.elif_, node.else_ = [], [_mark(f"{branch}:no"), *otherwise]


def _watch_inline(node: nodes.CondExpr, branch: str) -> None:
    node.expr1 = _marked(node.expr1, f"{branch}:yes")
    node.expr2 = _marked(node.expr2 or nodes.Const(""), f"{branch}:no")


def _mark(branch: str) -> nodes.Output:
    return nodes.Output([nodes.TemplateData(f"\x00{branch}\x01")])


def _marked(expression: nodes.Expr, branch: str) -> nodes.Expr:
    return nodes.Concat([nodes.Const(f"\x00{branch}\x01"), expression])
