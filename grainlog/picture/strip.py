"""The strip beside a marked photo: verdict, figures, key to the lines, warnings. It never covers the slab."""

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, ImageDraw

from grainlog.picture import palette
from grainlog.picture.figures import Summary, Trust
from grainlog.picture.lettering import spelled, text_width, typeface, wrapped
from grainlog.picture.palette import Colour, Style
from grainlog.picture.strokes import draw_line

_SIGN_COLOURS = {Trust.SOUND: palette.WOOD, Trust.LOOK: palette.BARK, Trust.DOUBT: palette.CARD}


@dataclass(frozen=True)
class KeyEntry:
    """One line of the key: a sample of the style and what it stands for."""

    style: Style
    name: str


@dataclass(frozen=True)
class _Sheet:
    """Where writing goes on while the strip is filled from top to bottom."""

    draw: ImageDraw.ImageDraw
    size: int
    margin: int
    width: int

    def text(self, x: float, y: float, text: str, size: float = 1.0, colour: Colour = palette.TEXT) -> None:
        self.draw.text((x, y), spelled(text), fill=colour, font=typeface(round(self.size * size)), anchor="ls")


def draw_strip(summary: Summary, key: tuple[KeyEntry, ...], width: int, text_px: int, least_height: int = 0):
    """The strip as (h, width, 3) uint8, as tall as its content needs and at least `least_height`.

    text_px : size of the figures; everything else is smaller
    """
    # Twice: once on a scrap to learn how tall it gets, once for good.
    height = max(_fill(Image.new("RGB", (8, 8)), summary, key, width, text_px), least_height)
    page = Image.new("RGB", (width, height), palette.GROUND)
    _fill(page, summary, key, width, text_px)
    return np.array(page)


def _fill(page: Image.Image, summary: Summary, key: tuple[KeyEntry, ...], width: int, text_px: int) -> int:
    sheet = _Sheet(ImageDraw.Draw(page), text_px, round(0.7 * text_px), width)
    y = _verdict(sheet, summary, sheet.margin)
    y = _figures(sheet, summary, y)
    y = _key(page, sheet, key, y)
    y = _warnings(sheet, summary, y)
    footnote = _FOOTNOTE_LONG if width > 22 * text_px else _FOOTNOTE
    sheet.text(sheet.margin, y + 0.7 * text_px, footnote, 0.55, palette.QUIET_TEXT)
    return round(y + 1.3 * text_px)


_FOOTNOTE = "± two standard uncertainties"
_FOOTNOTE_LONG = "± is two standard uncertainties: the truth lies within it about 19 times in 20"


def _verdict(sheet: _Sheet, summary: Summary, y: float) -> float:
    size = sheet.size
    _sign(sheet, summary.trust, sheet.margin, y, 1.5 * size)
    left = sheet.margin + 2.1 * size
    for row, words in enumerate(wrapped(summary.trust.value, round(1.15 * size), sheet.width - left - sheet.margin)):
        sheet.text(left, y + (1.1 + 1.3 * row) * size, words, 1.15)
        bottom, right = y + (1.1 + 1.3 * row) * size, left + text_width(words, round(1.15 * size))
    if right + size + text_width(summary.confidence, round(0.7 * size)) < sheet.width - sheet.margin:
        sheet.text(right + size, bottom, summary.confidence, 0.7, palette.QUIET_TEXT)
    else:
        bottom += 0.95 * size
        sheet.text(left, bottom, summary.confidence, 0.7, palette.QUIET_TEXT)
    return max(bottom, y + 1.5 * size) + 0.7 * size


def _sign(sheet: _Sheet, trust: Trust, x: float, y: float, side: float) -> None:
    """Tick in a disc, exclamation mark in a triangle, cross in a square: three shapes, not only three colours."""
    colour, draw, heavy = _SIGN_COLOURS[trust], sheet.draw, max(2, round(side / 9))

    def at(*shares: tuple[float, float]) -> list[tuple[float, float]]:
        return [(x + across * side, y + down * side) for across, down in shares]

    if trust is Trust.SOUND:
        draw.ellipse(at((0, 0), (1, 1)), fill=colour)
        draw.line(at((0.24, 0.52), (0.43, 0.72), (0.78, 0.3)), fill=palette.CASING, width=heavy, joint="curve")
    elif trust is Trust.LOOK:
        draw.polygon(at((0.5, 0), (1.02, 0.95), (-0.02, 0.95)), fill=colour)
        draw.line(at((0.5, 0.3), (0.5, 0.64)), fill=palette.CASING, width=heavy)
        draw.ellipse(at((0.435, 0.73), (0.565, 0.86)), fill=palette.CASING)
    else:
        draw.rectangle(at((0, 0), (1, 1)), fill=colour)
        draw.line(at((0.24, 0.24), (0.76, 0.76)), fill=palette.TEXT, width=heavy)
        draw.line(at((0.24, 0.76), (0.76, 0.24)), fill=palette.TEXT, width=heavy)


def _figures(sheet: _Sheet, summary: Summary, y: float) -> float:
    size = sheet.size
    inner = sheet.width - 2 * sheet.margin
    widest = max((text_width(figure.value, size) for figure in summary.figures), default=size) + 0.8 * size
    columns = int(min(4, max(1, inner // widest)))
    pitch = 2.95 * size
    for index, figure in enumerate(summary.figures):
        row, column = divmod(index, columns)
        left, top = sheet.margin + column * inner / columns, y + row * pitch
        sheet.text(left, top + 0.6 * size, figure.name, 0.62, palette.QUIET_TEXT)
        sheet.text(left, top + 1.6 * size, figure.value)
        sheet.text(left, top + 2.35 * size, figure.interval, 0.7)
    return y + -(-len(summary.figures) // columns) * pitch


def _key(page: Image.Image, sheet: _Sheet, key: tuple[KeyEntry, ...], y: float) -> float:
    size, sample = sheet.size, 2.2 * sheet.size
    x, small = float(sheet.margin), round(0.62 * sheet.size)
    for entry in key:
        needed = sample + 0.4 * size + text_width(entry.name, small)
        if x > sheet.margin and x + needed > sheet.width - sheet.margin:
            x, y = float(sheet.margin), y + 1.05 * size
        _sample(page, entry.style, x, y + 0.42 * size, sample, size)
        sheet.text(x + sample + 0.4 * size, y + 0.62 * size, entry.name, 0.62)
        x += needed + 1.1 * size
    return y + 1.5 * size if key else y


def _sample(page: Image.Image, style: Style, x: float, y: float, length: float, size: int) -> None:
    """A short piece of the line on the grey of ordinary ground, as it looks in the photo."""
    patch = np.full((round(0.7 * size), round(length), 3), 120, np.uint8)
    # The style counts in thousandths of a picture; the patch is drawn large, as part of one, then cut out.
    picture = np.full((patch.shape[0], max(patch.shape[1], 36 * size), 3), 120, np.uint8)
    middle = patch.shape[0] / 2
    draw_line(picture, np.array([[-size, middle], [length + size, middle]]), style)
    patch[:] = picture[:, : patch.shape[1]]
    page.paste(Image.fromarray(patch), (round(x), round(y - middle)))


def _warnings(sheet: _Sheet, summary: Summary, y: float) -> float:
    size, small = sheet.size, round(0.72 * sheet.size)
    left = sheet.margin + 1.2 * size
    for message in (*summary.warnings, *summary.reminders):
        doubt = message in summary.warnings
        if doubt:
            _sign(sheet, Trust.LOOK, sheet.margin, y + 0.02 * size, 0.75 * size)
        else:
            middle = sheet.margin + 0.375 * size, y + 0.46 * size
            sheet.draw.circle(middle, 0.14 * size, fill=palette.QUIET_TEXT)
        for row in wrapped(message, small, sheet.width - left - sheet.margin):
            sheet.text(left, y + 0.72 * size, row, 0.72, palette.TEXT if doubt else palette.QUIET_TEXT)
            y += 0.95 * size
        y += 0.2 * size
    return y


def beside(picture: np.ndarray, strip: np.ndarray) -> np.ndarray:
    """The strip below a wide picture (same width) or to the right of a tall one (ground fills the shorter)."""
    if strip.shape[1] == picture.shape[1]:
        return np.vstack([picture, strip])
    height = max(len(picture), len(strip))

    def filled(part: np.ndarray) -> np.ndarray:
        return cv2.copyMakeBorder(
            part, 0, height - len(part), 0, 0, cv2.BORDER_CONSTANT, value=[float(level) for level in palette.GROUND]
        )

    return np.hstack([filled(picture), filled(strip)])
