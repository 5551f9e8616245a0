"""Photos of one face under one another, square-on, at one scale and lying alike: each check in its own colour and name."""

import io
from collections.abc import Sequence

import cv2
import numpy as np
import shapely
from PIL import Image, ImageDraw

from grainlog.checks.change import moved
from grainlog.checks.history import CheckHistory, FaceLook
from grainlog.errors import WrongUse
from grainlog.picture.check_colours import strokes_of
from grainlog.picture.lettering import (
    Label,
    place_label,
    spelled,
    text_width,
    typeface,
    write_labels,
)
from grainlog.picture.strokes import draw_line
from grainlog.scale.flat import FlatView
from grainlog.units import format_length
from grainlog.units.factors import MM_PER_INCH

#: The picture's width; around the wood this much ground is shown, mm.
WIDE_PX, AROUND_MM = 1800, 9.0
#: Names are written at so many checks, the longest first.
MOST_NAMED = 16
_GROUND, _TEXT, _MARGIN, _NAME = (246, 246, 243), 30, 36, 30
_INK = (34, 38, 43)


def chosen(history: CheckHistory, face: str | None = None, most: int = 6) -> list[FaceLook]:
    """The photos to draw: of the face that was followed most often if none is named; the first, the newest and some between.

    Raises WrongUse where there is none.
    """
    faces = history.faces
    if not faces or face is not None and face not in faces:
        of = f" of the {face} side" if face else ""
        raise WrongUse(f"Slab {history.tag} has no photo{of} whose checks were looked for, so there is nothing to draw.")
    looks = history.of_face(face if face is not None else max(faces, key=lambda one: len(history.of_face(one))))
    if len(looks) <= most:
        return looks
    return [looks[round(place)] for place in np.linspace(0, len(looks) - 1, max(most, 1))] if most > 1 else looks[-1:]


def draw_side_by_side(history: CheckHistory, looks: Sequence[FaceLook], views: Sequence[FlatView], units: str = "in") -> bytes:
    """A PNG with one strip per photo, the oldest at the top.

    views : of each look, x along the slab to the right, y up, in its own slab frame
    """
    strokes = strokes_of(one.name for look in looks for one in look.sightings)
    ways = [_rigid(look.to_first) for look in looks]
    outlines = [moved(_corners(view), way) for view, way in zip(views, ways)]
    low, high = np.vstack(outlines).min(0), np.vstack(outlines).max(0)
    scale = (WIDE_PX - 2 * _MARGIN) / (high[0] - low[0])
    tall = round((high[1] - low[1]) * scale)
    head = _TEXT + 34
    title = np.full((96, WIDE_PX, 3), _GROUND, np.uint8)
    rows = [_bar(write_plain(title, f"Slab {history.tag}: checks of {_face(looks)}", _MARGIN, 42, 38), scale, units)]
    onto = np.array([[scale, 0, _MARGIN - scale * low[0]], [0, -scale, head + scale * high[1]]])
    for look, view, way in zip(looks, views, ways):
        row = write_plain(np.full((tall + head + 6, WIDE_PX, 3), _GROUND, np.uint8), _caption(look, looks[0], units), _MARGIN, 26, _TEXT)
        rows.append(_strip(row, look, view, way, onto, strokes))
    page = np.vstack(rows)
    buffer = io.BytesIO()
    Image.fromarray(page).save(buffer, "PNG", compress_level=4)
    return buffer.getvalue()


def _face(looks: Sequence[FaceLook]) -> str:
    return f"the {looks[0].face} side" if looks[0].face else "one face"


def _caption(look: FaceLook, first: FaceLook, units: str) -> str:
    said = look.day.isoformat()
    if look is not first:
        said += f", {(look.day - first.day).days} days on"
    if look.shrinkage is not None:
        percent = 100 * look.shrinkage.value
        said += f"; {abs(percent):.1f} % {'narrower' if percent >= 0 else 'wider'} across the grain"
    seen = [one.check for one in look.sightings if one.check is not None]
    said += f"; checks: {len(seen)}"
    return said + (f", together {format_length(sum(check.length for check in seen), units, 2)}" if seen else "")


def _strip(page, look: FaceLook, view: FlatView, way: np.ndarray, onto: np.ndarray, strokes) -> np.ndarray:
    to_page = np.vstack([onto, [0, 0, 1]]) @ np.vstack([way, [0, 0, 1]])
    px_to_mm = np.array([[view.mm_per_px, 0, view.origin_mm[0]], [0, -view.mm_per_px, view.origin_mm[1]], [0, 0, 1]])
    height, width = page.shape[:2]
    matrix = (to_page @ px_to_mm)[:2]
    laid = cv2.warpAffine(view.rgb, matrix, (width, height), flags=cv2.INTER_AREA)
    mask = cv2.warpAffine(view.seen.astype(np.uint8), matrix, (width, height), flags=cv2.INTER_NEAREST)
    page = np.where(mask[..., None] > 0, laid, page)
    labels, taken = [], []
    seen = sorted((one for one in look.sightings if one.check is not None), key=lambda one: -one.check.length)
    lines = [(one, moved(one.check.path, to_page[:2])) for one in seen]
    for one, path in lines:
        draw_line(page, path, strokes[one.name].style)
        taken.append(shapely.LineString(path).buffer(4))
    for one, path in lines[:MOST_NAMED]:
        middle, tip = path[len(path) // 2], path[-1]
        spots = [place + np.array([dx, dy]) for place in (middle, tip, path[0]) for dx, dy in ((0, -24), (0, 24), (30, -16), (-30, 16), (34, 18))]
        labels.append(place_label([Label(one.name, *spot, _NAME, strokes[one.name].colour) for spot in spots], taken, width, height))
    return write_labels(page, labels)


def _bar(page: np.ndarray, scale: float, units: str) -> np.ndarray:
    """A length to go by, in the upper right corner."""
    length, said = (100.0, "100 mm") if units == "mm" else (4 * MM_PER_INCH, "4 in")
    right = WIDE_PX - _MARGIN
    left = right - scale * length
    cv2.line(page, (round(left), 62), (right, 62), _INK, 3, cv2.LINE_AA)
    for x in (round(left), right):
        cv2.line(page, (x, 54), (x, 70), _INK, 3, cv2.LINE_AA)
    return write_plain(page, said, right - text_width(said, 24), 34, 24)


def write_plain(page: np.ndarray, text: str, left: float, middle: float, size: int) -> np.ndarray:
    """Dark text without a casing on the plain ground, its left end and its middle line given."""


    image = Image.fromarray(page)
    ImageDraw.Draw(image).text((left, middle), spelled(text), fill=_INK, font=typeface(size), anchor="lm")
    return np.array(image)


def _corners(view: FlatView) -> np.ndarray:
    height, width = view.seen.shape
    return view.to_mm(np.array([[0.0, 0], [width, 0], [width, height], [0, height]]))


def _rigid(matrix: np.ndarray) -> np.ndarray:
    """The same map without its scales: real sizes stay, so that shrinkage shows."""
    turn = matrix[:, :2] / np.linalg.norm(matrix[:, :2], axis=0)
    return np.column_stack([turn, matrix[:, 2]])
