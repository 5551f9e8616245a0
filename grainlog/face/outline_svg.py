"""The drawn rings of an SVG file: polygons, polylines and paths of straight segments, in photo pixels.

No part of XML that can reach outside the file or grow without end is read: a document type or an entity is refused.
"""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_TOKEN = re.compile(rf"\s*,?\s*(?:([A-Za-z])|({_NUMBER}))\s*")
_PARTS = ("wood", "bark", "hole")
_DRAWN = ("polygon", "polyline", "path", "circle")
_NOT_SHOWN = ("defs", "clipPath", "mask", "symbol", "pattern", "marker")


def outline_part(words: list[str]) -> str | None:
    """The part of an outline that the words of an id and class name: "wood", "bark", "hole", or None."""
    return next((part for part in _PARTS if part in words or f"{part}s" in words), None)


def svg_rings(
    text: str, width_px: int, height_px: int, part_of: Callable[[list[str]], str | None] = outline_part
) -> list[tuple[str | None, list[list[float]]]]:
    """(part, points) of each drawn line in document order; part is what `part_of` makes of its id and class.

    A circle is one point, its centre.

    A viewBox is scaled to the photo's size, so a drawing made over a smaller copy fits; without one, user units are
    pixels. Half a pixel is taken off, because SVG counts from the corner of the first pixel and photos from its
    centre. Raises ValueError with a clause that says what is wrong.
    """
    if re.search(r"<!\s*(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise ValueError("it has a document type or entities, which a drawing does not need; save it as plain SVG")
    try:
        # Given as text, the parser cannot be talked into another encoding in which a document type would go unseen.
        root = ElementTree.fromstring(text)
    except (ElementTree.ParseError, ValueError):
        raise ValueError("it is not well-formed SVG; save it again") from None
    if _tag(root) != "svg":
        raise ValueError("it is XML but not an SVG drawing")
    left, top, across, down = _view(root, width_px, height_px)
    rings = []
    for part, element in _drawn(root, part_of):
        for ring in _rings(element):
            rings.append((part, [[(x - left) * across - 0.5, (y - top) * down - 0.5] for x, y in ring]))
    if not rings:
        raise ValueError("it has no polygon, polyline or path in it; draw the wood edge as one of these")
    return rings


def _tag(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _view(root: ElementTree.Element, width_px: int, height_px: int) -> tuple[float, float, float, float]:
    """Left, top and the two scales from user units to pixels."""
    stated = root.get("viewBox")
    if stated is None:
        return 0.0, 0.0, 1.0, 1.0
    values = re.split(r"[\s,]+", stated.strip())
    if len(values) != 4 or not all(re.fullmatch(_NUMBER, value) for value in values):
        raise ValueError("its viewBox is not four numbers")
    left, top, width, height = map(float, values)
    if not (0 < width < 1e9 and 0 < height < 1e9):
        raise ValueError("its viewBox has no size")
    across, down = width_px / width, height_px / height
    # A pixel of rounding at the size of the drawing is no reason to refuse it.
    if abs(across / down - 1) > 1.0 / min(width, height) + 0.001:
        raise ValueError(f"its viewBox is {width:g} x {height:g} and the photo {width_px} x {height_px}, "
                         "which is another shape; draw on this photo as it is shown upright")
    return left, top, across, down


def _drawn(root: ElementTree.Element, part_of) -> list[tuple[str | None, ElementTree.Element]]:
    """The drawn elements in document order, each with its own part or that of the group it is in."""
    drawn, waiting = [], [(None, root)]
    while waiting:
        inherited, element = waiting.pop()
        if _tag(element) in _NOT_SHOWN:
            continue
        if element.get("transform"):
            raise ValueError("it moves or turns its parts (a transform); save it with the transforms applied")
        part = part_of(_words(element)) or inherited
        if _tag(element) in _DRAWN:
            drawn.append((part, element))
        waiting.extend((part, child) for child in reversed(element))
    return drawn


def _words(element: ElementTree.Element) -> list[str]:
    return re.split(r"[^a-z]+", f"{element.get('id', '')} {element.get('class', '')}".lower())


def _rings(element: ElementTree.Element) -> list[list[tuple[float, float]]]:
    if _tag(element) == "path":
        return _path(element.get("d", ""))
    if _tag(element) == "circle":
        centre = [_tokens(element.get(name, "0")) for name in ("cx", "cy")]
        if not all(len(value) == 1 and isinstance(value[0], float) for value in centre):
            raise ValueError("a circle in it has no centre of two numbers")
        return [[(centre[0][0], centre[1][0])]]
    tokens = _tokens(element.get("points", ""))
    if len(tokens) % 2 or not all(isinstance(token, float) for token in tokens):
        raise ValueError("a polygon in it is not made of pairs of numbers")
    return [list(zip(tokens[::2], tokens[1::2]))]


def _tokens(text: str) -> list[str | float]:
    tokens, at = [], 0
    text = text.strip()
    while at < len(text):
        found = _TOKEN.match(text, at)
        if not found:
            raise ValueError("a line in it is not made of numbers")
        tokens.append(found.group(1) or float(found.group(2)))
        at = found.end()
    return tokens


def _path(text: str) -> list[list[tuple[float, float]]]:
    """Rings of a path of straight segments: M, L, H, V, Z, absolute or relative (SVG 2, section 9.3)."""
    rings: list[list[tuple[float, float]]] = []
    x = y = 0.0
    command, closed = "", False
    tokens = _tokens(text)
    at = 0
    while at < len(tokens):
        if isinstance(tokens[at], str):
            command = tokens[at]
            at += 1
            if command in "Zz":
                if not rings:
                    raise ValueError("a path in it does not begin with a point")
                (x, y), closed = rings[-1][0], True
                continue
        if command and command not in "MmLlHhVvZz":
            raise ValueError("a path in it has curves; draw the edge with straight segments")
        count = 1 if command in "HhVv" else 2
        values = tokens[at : at + count]
        if not command or command in "Zz" or len(values) < count or any(isinstance(v, str) for v in values):
            raise ValueError("a path in it is broken off")
        at += count
        base_x, base_y = (x, y) if command.islower() else (0.0, 0.0)
        x = x if command in "Vv" else base_x + values[0]
        y = y if command in "Hh" else base_y + values[-1]
        if command in "Mm":
            rings.append([(x, y)])
            command = "l" if command == "m" else "L"  # further pairs after a move are lines
        elif not rings:
            raise ValueError("a path in it does not begin with a point")
        elif closed:
            rings.append([rings[-1][0], (x, y)])
        else:
            rings[-1].append((x, y))
        closed = False
    return rings
