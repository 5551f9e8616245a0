"""Draw `how-to-photograph.svg`, and the PNG beside it where `resvg-py` is installed (`pip install resvg-py`).

    python calibration/draw_how_to.py

Sizes keep their proportions within each panel (a slab of 2.7 m, a card of 200 x 270 mm), except the thickness and the
lift in panel 3, which are drawn larger to be seen.
"""

import math
from pathlib import Path

from grainlog.scale import card as scale_card

WIDTH, HEIGHT = 1200, 1010
INK, QUIET, PAPER, FLOOR = "#1d2126", "#5b636c", "#ffffff", "#e3e1dc"
WOOD, BARK, STEP, SKIN, CLOTH = "#c9985f", "#5a4130", "#8d97a3", "#c79a78", "#3f6f8f"
FRAME, LIGHT, DANGER = "#0a6ea8", "#f2c230", "#b3321f"


def main() -> None:
    here = Path(__file__).parent
    drawing = svg()
    (here / "how-to-photograph.svg").write_text(drawing, encoding="utf-8")
    try:
        import resvg_py
    except ImportError:
        print("SVG written; the PNG needs resvg-py.")
        return
    (here / "how-to-photograph.png").write_bytes(_png(resvg_py, drawing))


def svg() -> str:
    """The whole drawing as SVG 1.1 text."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" font-family="sans-serif">',
        "<title>How to photograph a slab with scale cards</title>",
        f"<defs>{_card_symbol()}</defs>",
        _box(0, 0, WIDTH, HEIGHT, PAPER),
        *_on_the_slab(),
        *_on_the_floor(),
        *_from_the_side(),
        *_safety(),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _on_the_slab():
    yield from _panel(20, 20, 570, 440, "1", "Surest: two cards on the slab, near its ends")
    yield from _from_above(305, 240)
    yield _card(140, 236, 0.155, -6)
    yield _card(468, 244, 0.155, 84)
    yield _words(305, 124, "the photo: all of the slab, some ground all round", 17, FRAME, "middle")


def _on_the_floor():
    yield from _panel(610, 20, 570, 440, "2", "Or, on a hard flat floor: four cards round it")
    yield from _from_above(895, 240)
    for x, y, turn in ((712, 143, 10), (1080, 143, -8), (708, 340, -5), (1084, 342, 95)):
        yield _card(x, y, 0.155, turn)
    yield _words(895, 342, "none under the slab, none over its edge", 17, QUIET, "middle")


def _from_above(x, y):
    """Slab, the frame of the photo, and the step with its two shoes, seen from above."""
    yield f'<rect x="{x - 255}" y="{y - 135}" width="510" height="270" fill="none" stroke="{FRAME}" ' \
        'stroke-width="3" stroke-dasharray="14 9"/>'
    yield _slab_above(x, y, 420, 108)
    yield _box(x - 48, y + 150, 96, 46, STEP, round_by=5)
    for shoe in (-20, 20):
        yield f'<ellipse cx="{x + shoe}" cy="{y + 170}" rx="9" ry="19" fill="{INK}"/>'
    yield _words(x + 62, y + 180, "you, on a step at the middle", 16.5)


def _slab_above(x, y, length, width):
    """A live-edge slab: straight sawn ends, wavy long edges, a rim of bark."""
    def edge(sign):
        steps = [i / 24 for i in range(25)]
        wave = [sign * width / 2 * (1 + 0.10 * math.sin(7 * s + sign) + 0.16 * math.exp(-((s - 0.8) / 0.12) ** 2))
                for s in steps]
        return [(x - length / 2 + s * length, y + w) for s, w in zip(steps, wave, strict=True)]

    top, bottom = edge(-1), edge(1)
    body = " ".join(f"{a:.1f},{b:.1f}" for a, b in top + bottom[::-1])
    rims = "".join(
        f'<polyline points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in rim)}" fill="none" stroke="{BARK}" '
        'stroke-width="6" stroke-linejoin="round"/>'
        for rim in (top, bottom)
    )
    grain = "".join(
        f'<path d="M{x - length / 2 + 8},{y + k * 15} q{length / 4},{6 - 3 * k} {length / 2},0 t{length / 2 - 16},0" '
        f'fill="none" stroke="{BARK}" stroke-opacity="0.25" stroke-width="2"/>'
        for k in (-2, -1, 0, 1, 2)
    )
    return f'<polygon points="{body}" fill="{WOOD}"/>{grain}{rims}'


def _from_the_side():
    yield from _panel(20, 475, 1160, 450, "3", "Camera high over the middle of the long side")
    floor = 880
    yield _box(40, floor, 1120, 30, FLOOR)
    phone_x, phone_y = 600, 566
    # What the lens sees: wider than the slab on both sides.
    yield f'<polygon points="{phone_x},{phone_y} 360,{floor} 840,{floor}" fill="{FRAME}" fill-opacity="0.12"/>'
    for end in (360, 840):
        yield _line(phone_x, phone_y, end, floor, FRAME, 2.5, "14 9")
    yield from _person(phone_x, phone_y, floor)
    for x in (430, 600, 770):
        yield _box(x - 12, floor - 14, 24, 14, "#e9d8b4", INK)
    yield _box(410, floor - 36, 380, 22, WOOD, BARK)
    for x in (462, 738):
        yield _box(x - 17, floor - 40, 34, 4, PAPER, INK)
    yield from _close_up(195, 715)
    yield from _sky(905, 560)
    for row, text in enumerate((
        "main lens, no zoom, no flash",
        "bright cloud or open shade",
        "cards flat, in a matt sleeve,",
        "weighted on the white strip",
        "say the thickness and the lift",
    )):  # fmt: skip
        y = 680 + 33 * row
        if row != 3:
            yield f'<circle cx="873" cy="{y - 6}" r="5" fill="{FRAME}"/>'
        yield _words(890, y, text, 20)


def _person(x, phone_y, floor):
    """Somebody behind the slab on a step, both hands on a phone held out over it."""
    top = floor - 54
    yield _box(x - 50, top, 100, 54, STEP, INK, 4)
    yield _line(x - 50, top + 26, x + 50, top + 26, INK, 2)
    for side in (-1, 1):
        yield _line(x + 14 * side, top - 4, x + 12 * side, top - 100, "#39434d", 21)
        yield _line(x + 27 * side, top - 164, x + 44 * side, phone_y + 48, CLOTH, 15)
        yield _line(x + 44 * side, phone_y + 48, x + 22 * side, phone_y + 6, SKIN, 12)
    yield _box(x - 30, top - 178, 60, 92, CLOTH, round_by=16)
    yield f'<circle cx="{x}" cy="{top - 204}" r="23" fill="{SKIN}"/>'
    yield _box(x - 30, phone_y - 8, 60, 15, INK, round_by=4)
    yield f'<circle cx="{x}" cy="{phone_y + 9}" r="5" fill="{FRAME}"/>'


def _close_up(x, y):
    """The slab's end near by: thickness, lift, and a card on the floor with its weight."""
    yield f'<circle cx="{x}" cy="{y}" r="148" fill="{PAPER}" stroke="{QUIET}" stroke-width="2"/>'
    yield _line(331, 772, 408, 856, QUIET, 2)
    base = y + 88
    yield _box(x - 112, base, 224, 16, FLOOR)
    yield _box(x - 20, base - 40, 40, 40, "#e9d8b4", INK)
    yield _box(x - 62, base - 110, 150, 70, WOOD, BARK)
    yield _box(x - 116, base - 4, 62, 5, PAPER, INK)
    yield _box(x - 96, base - 24, 26, 20, "#39434d", round_by=3)
    for low, high, text, at in ((base - 42, base - 108, "thickness", x + 6), (base - 1, base - 39, "lift", x + 42)):
        inside = text == "thickness"
        arrow = x - 50 if inside else x + 34
        yield _measure(arrow, low, high)
        yield _words(at - (44 if inside else 0), (low + high) / 2 + 7, text, 20)
    yield _words(x, y - 62, "measure these two", 18, QUIET, "middle")


def _measure(x, low, high):
    heads = "".join(
        f'<path d="M{x - 6},{tip + 9 * way} L{x},{tip} L{x + 6},{tip + 9 * way}" fill="none" stroke="{INK}" '
        'stroke-width="2.5"/>'
        for tip, way in ((high, 1), (low, -1))
    )
    return _line(x, low, x, high, INK, 2.5) + heads


def _sky(x, y):
    """The sun behind a cloud."""
    yield f'<circle cx="{x + 52}" cy="{y - 14}" r="34" fill="{LIGHT}"/>'
    lumps = ((0, 18, 30), (38, 2, 38), (84, 8, 34), (116, 22, 26))
    for edge, colour in ((3, QUIET), (0, "#eef1f4")):
        for dx, dy, r in lumps:
            yield f'<circle cx="{x + dx}" cy="{y + dy}" r="{r + edge}" fill="{colour}"/>'
        yield _box(x - edge, y + 18 - edge, 116 + 2 * edge, 30 + 2 * edge, colour)


def _safety():
    yield f'<rect x="20" y="940" width="1160" height="54" rx="8" fill="none" stroke="{DANGER}" stroke-width="3"/>'
    yield f'<path d="M58,950 L82,986 L34,986 Z" fill="{DANGER}"/>'
    yield _line(58, 962, 58, 975, PAPER, 4)
    yield f'<circle cx="58" cy="981" r="2.6" fill="{PAPER}"/>'
    yield _words(
        98, 974, "The step stands firm and level, and somebody holds it. Never climb on a stack, a log or the slab.", 21
    )


def _card_symbol() -> str:
    """The real pattern, in millimetres, its middle at the origin."""
    left, top = scale_card.WIDTH_MM / 2, scale_card.HEIGHT_MM / 2
    boxes = "".join(
        f"M{box.x - left:g},{box.y - top:g}h{box.width:g}v{box.height:g}h{-box.width:g}z"
        for box in scale_card.rectangles(0)
    )
    return (
        f'<g id="card"><rect x="{-left:g}" y="{-top:g}" width="{2 * left:g}" height="{2 * top:g}" fill="{PAPER}" '
        f'stroke="{INK}" stroke-width="8"/><path d="{boxes}" fill="{INK}"/></g>'
    )


def _card(x, y, scale, turn) -> str:
    return f'<use xlink:href="#card" transform="translate({x} {y}) rotate({turn}) scale({scale})"/>'


def _panel(x, y, width, height, number, title):
    yield f'<rect x="{x}" y="{y}" width="{width}" height="{height}" rx="10" fill="#f6f5f2" stroke="#cfccc5"/>'
    yield f'<circle cx="{x + 34}" cy="{y + 36}" r="20" fill="{INK}"/>'
    yield _words(x + 34, y + 45, number, 25, PAPER, "middle")
    yield _words(x + 66, y + 44, title, 23)


def _box(x, y, width, height, fill, stroke="none", round_by=0) -> str:
    return (
        f'<rect x="{x}" y="{y}" width="{width}" height="{height}" rx="{round_by}" fill="{fill}" stroke="{stroke}" '
        'stroke-width="2"/>'
    )


def _line(x1, y1, x2, y2, colour, width, dashes="none") -> str:
    return (
        f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{colour}" stroke-width="{width}" '
        f'stroke-linecap="round" stroke-dasharray="{dashes}"/>'
    )


def _words(x, y, text, size, colour=INK, anchor="start") -> str:
    return f'<text x="{x}" y="{y}" font-size="{size}" fill="{colour}" text-anchor="{anchor}">{text}</text>'


def _png(renderer, drawing: str) -> bytes:
    """The drawing as PNG, in the typeface that comes with Pillow: a fresh machine has no other."""
    import tempfile

    from PIL import ImageFont

    face = ImageFont.load_default(20)
    with tempfile.NamedTemporaryFile(suffix=".ttf") as file:
        file.write(face.font_bytes)
        file.flush()
        named = drawing.replace('font-family="sans-serif"', f'font-family="{face.getname()[0]}"')
        return bytes(renderer.svg_to_bytes(svg_string=named, font_files=[file.name]))


if __name__ == "__main__":
    main()
