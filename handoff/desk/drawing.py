"""A chart's `Drawing` -> SVG, with the same vectors as the printed sheet.

Input: a `Drawing`, and its description in words. Output: SVG without inline style, as a strict
content-security policy requires. Decides nothing.
"""

from collections.abc import Iterable

from markupsafe import Markup

from handoff.model.figure import Drawing, Path, Text

_ANCHORS = {0: "start", 0.5: "middle", 1: "end"}


def svg(drawing: Drawing, words: str, name: str) -> Markup:
    """The drawing as an image, read out as `words`; '' marks it as decoration.

    `name` is that of no other drawing on the page.
    """
    head = Markup('<svg class="drawing" viewBox="0 0 {} {}" {}>').format(
        _shown(drawing.width),
        _shown(drawing.height),
        Markup('role="img" aria-label="{}"').format(words)
        if words
        else Markup('aria-hidden="true"'),
    )
    marks = Markup().join(
        _mark(path, f"{name}-{number}") for number, path in enumerate(drawing.paths)
    )
    upright = Markup('<g transform="matrix(1 0 0 -1 0 {})">{}</g>').format(
        _shown(drawing.height), marks
    )
    texts = Markup().join(_text(text, drawing.height) for text in drawing.texts)
    return head + upright + texts + Markup("</svg>")


def _mark(path: Path, clip_name: str) -> Markup:
    steps = " ".join(
        name + " ".join(_shown(number, 1) for number in numbers) for name, *numbers in path.steps
    )
    attributes = {
        "d": steps,
        "fill": _colour(path.fill),
        "stroke": _colour(path.stroke),
        "stroke-width": _shown(path.width),
    }
    if path.dash:
        attributes["stroke-dasharray"] = " ".join(map(_shown, path.dash))
    if not path.clip:
        return _tag("path", attributes)
    x, y, width, height = map(_shown, path.clip)
    window = _tag("rect", {"x": x, "y": y, "width": width, "height": height})
    return Markup('<clipPath id="{}">{}</clipPath>').format(clip_name, window) + _tag(
        "path", {**attributes, "clip-path": f"url(#{clip_name})"}
    )


def _text(text: Text, height: float) -> Markup:
    attributes = {
        "x": _shown(text.x),
        "y": _shown(height - text.y),
        "font-size": _shown(text.size),
        "text-anchor": _ANCHORS[text.align],
    }
    if text.is_white:
        attributes["class"] = "white"
    if text.bold:
        attributes["font-weight"] = "600"
    return Markup("<text{}>{}</text>").format(_written(attributes.items()), text.text)


def _tag(name: str, attributes: dict[str, str]) -> Markup:
    return Markup("<{}{}/>").format(name, _written(attributes.items()))


def _written(attributes: Iterable[tuple[str, str]]) -> Markup:
    return Markup().join(Markup(' {}="{}"').format(name, value) for name, value in attributes)


def _colour(rgb: tuple[float, float, float] | None) -> str:
    return "none" if rgb is None else "#" + "".join(f"{round(part * 255):02x}" for part in rgb)


def _shown(number: float, decimals: int = 2) -> str:
    return f"{number:.{decimals}f}".rstrip("0").rstrip(".")
