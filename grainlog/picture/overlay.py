"""The marked photo: what was measured, drawn on the photo, with the numbers in a strip beside it."""

from collections.abc import Mapping

import cv2
import numpy as np
import shapely

from grainlog.picture import palette
from grainlog.picture.check_labels import check_labels
from grainlog.picture.figures import summarise, value_and_interval
from grainlog.picture.lettering import Label, place_label, text_width, write_labels
from grainlog.picture.marks import length_arrows, stations
from grainlog.picture.strip import KeyEntry, beside, draw_strip
from grainlog.picture.strokes import draw_arrow_heads, draw_line, unit_px

_FIGURE_TEXT = 27  # thousandths of the longer side: about 11 px on a phone that shows the picture 400 px wide
_LABEL_TEXT = 22
_CHECK_TEXT = 17
_PLAIN_STATION_STRENGTH = 0.6
#: The strip beside an upright picture, as a share of the picture's height.
_SIDE_STRIP = 0.55


def draw_overlay(photo_pixels: np.ndarray, record: Mapping, units: str = "in", max_side: int = 2000) -> np.ndarray:
    """Draw a survey on its photo so that a person sees in two seconds whether to trust it.

    photo_pixels : (h, w, 3) uint8, sRGB, upright; not changed
    record : plain data of the survey (the JSON of `measure`); its pixels are those of the upright photo with the
        centre of the first pixel at (0, 0). What is missing is left out of the picture.
    units : "in" or "mm"
    max_side : longer side of the photo in the result, px; a smaller photo is not enlarged

    Returns (h', w', 3) uint8: the marked photo with the strip below it, or on its right where the photo is upright.
    Raises UnitsError for unknown units.
    """
    summary = summarise(record, units)
    picture, shrink = _shrunk(photo_pixels, max_side)
    key = _draw_lines(picture, record, shrink)
    picture = _write_names(picture, record, units, shrink)
    height, width = picture.shape[:2]
    text = max(10, round(_FIGURE_TEXT * unit_px(picture)))
    if width >= height:
        return beside(picture, draw_strip(summary, key, width, text))
    # Never as wide as the picture: equal widths mean "below".
    return beside(picture, draw_strip(summary, key, max(round(_SIDE_STRIP * height), width // 2) | 1, text, height))


def _shrunk(photo: np.ndarray, max_side: int):
    """A copy no longer than `max_side`, and the function that takes photo pixels to its pixels."""
    height, width = photo.shape[:2]
    share = min(1.0, max_side / max(height, width))
    size = max(1, round(width * share)), max(1, round(height * share))
    scale = np.array([size[0] / width, size[1] / height])
    picture = cv2.resize(photo, size, interpolation=cv2.INTER_AREA) if share < 1 else photo.copy()
    return picture, lambda points: (np.asarray(points, float).reshape(-1, 2) + 0.5) * scale - 0.5


def _draw_lines(picture: np.ndarray, record: Mapping, shrink) -> tuple[KeyEntry, ...]:
    """Everything without text, into `picture`; returns the key to what was drawn."""
    outline = record.get("outline") or {}
    key = []

    def draw(style: palette.Style, name: str, lines, closed: bool) -> None:
        lines = [line for line in lines if line is not None and len(line) > 1]
        for line in lines:
            draw_line(picture, shrink(line), style, closed)
        if lines:
            key.append(KeyEntry(style, name))

    widths = stations(record.get("face") or {})
    plain = picture.copy()
    for station in widths:
        if not station.name:
            draw_line(plain, shrink(station.ends), palette.WIDTH_STATION)
    cv2.addWeighted(plain, _PLAIN_STATION_STRENGTH, picture, 1 - _PLAIN_STATION_STRENGTH, 0, dst=picture)

    draw(palette.SILHOUETTE, "whole slab", [outline.get("silhouette_px")], True)
    draw(palette.BARK_EDGE, "bark edge", [outline.get("bark_px")], True)
    draw(palette.WOOD_EDGE, "wood edge", [outline.get("wood_px"), *(outline.get("wood_holes_px") or ())], True)
    draw(palette.NAMED_STATION, "width", [station.ends for station in widths if station.name], False)
    draw(palette.CHECK_LINE, "check", [check.get("path_px") for check in record.get("checks") or ()], False)
    used, left_out = _cards(record)
    draw(palette.CARD_EDGE, "scale card", used.values(), True)
    draw(palette.CARD_LEFT_OUT, "card left out", left_out.values(), True)
    for corners in left_out.values():
        # Crossed through: a card that did not count.
        for crossing in (corners[0::2], corners[1::2]):
            draw_line(picture, shrink(crossing), palette.CARD_EDGE)
    return tuple(key)


def _write_names(picture: np.ndarray, record: Mapping, units: str, shrink) -> np.ndarray:
    """The length arrow and all labels, placed so that they hide neither wood nor cards nor one another."""
    height, width = picture.shape[:2]
    size = max(9, round(_LABEL_TEXT * unit_px(picture)))
    outline, face = record.get("outline") or {}, record.get("face") or {}
    used, left_out = _cards(record)
    taken = [_shape(shrink(corners)) for corners in (*used.values(), *left_out.values())]
    for key in ("silhouette_px", "bark_px", "wood_px"):
        if outline.get(key):
            taken.append(_shape(shrink(outline[key])))
            break

    labels = []
    arrow = _best_arrow(length_arrows(outline), taken, width, height, shrink)
    if arrow is not None and face.get("length_mm"):
        tips, witnesses = shrink(arrow.tips), shrink(arrow.witnesses)
        for tip, witness in zip(tips, witnesses, strict=True):
            draw_line(picture, np.array([witness, tip]), palette.WIDTH_STATION)
        text, _ = value_and_interval(**_plain(face["length_mm"]), units=units)
        labels.append(place_label(_along(tips, witnesses, text, size), taken, width, height))
        draw_arrow_heads(picture, *tips, palette.LENGTH_ARROW)
        shaft = shapely.LineString(tips).difference(labels[-1].box())
        for part in shapely.get_parts(shaft):
            draw_line(picture, shapely.get_coordinates(part), palette.LENGTH_ARROW)
        taken.append(shapely.LineString(tips).buffer(size / 2))
    for station in stations(face):
        if station.name:
            written, _ = value_and_interval(station.width_mm, station.u_mm, units)
            ends = shrink(station.ends)
            labels.append(place_label(_beyond(ends, f"{station.name} {written}", size), taken, width, height))
            draw_line(picture, _leader(ends, labels[-1]), palette.WIDTH_STATION)
    for card, corners in (*used.items(), *left_out.items()):
        text = str(card) if card in used else f"{card} left out"
        labels.append(Label(text, *shrink(corners).mean(axis=0), round(1.2 * size)))
    labels += check_labels(record, units, shrink, round(_CHECK_TEXT * unit_px(picture)), (width, height))
    return write_labels(picture, labels)


def _cards(record: Mapping) -> tuple[dict, dict]:
    """Corners of the cards that count and of those left out, by number, photo px; those without corners are missing."""
    scale = record.get("scale") or {}
    corners = {int(card): np.array(points, float) for card, points in (scale.get("cards_px") or {}).items()}
    out = {int(left["card"]) for left in scale.get("left_out") or ()}
    return {k: v for k, v in corners.items() if k not in out}, {k: v for k, v in corners.items() if k in out}


def _best_arrow(arrows, taken, width: int, height: int, shrink):
    """The arrow that keeps most clear of the frame and of what is drawn; None where there is none."""
    frame = shapely.box(0, 0, width - 1, height - 1).buffer(-_LABEL_TEXT * max(width, height) / 1000)

    def cost(arrow) -> float:
        line = shapely.LineString(shrink(arrow.tips))
        # Four-fold: an arrow out of the frame is worse than one across a card.
        return 4 * line.difference(frame).length + sum(line.intersection(shape).length for shape in taken)

    return min(arrows, key=cost, default=None)


def _beyond(ends: np.ndarray, text: str, size: int) -> list[Label]:
    """Places for the name of a station: beyond either end of it, near first, then shifted along the slab."""
    across = ends[1] - ends[0]
    across = across / max(np.linalg.norm(across), 1e-9)
    reach = abs(across[0]) * text_width(text, size) / 2 + abs(across[1]) * size * 0.68
    return [
        Label(text, *(end + outward * (reach + far * size) + shift * size * np.array([-across[1], across[0]])), size)
        for shift in (0, 3, -3)
        for far in (0.8, 2.4, 4.0)
        for end, outward in ((ends[0], -across), (ends[1], across))
    ]


def _along(tips: np.ndarray, witnesses: np.ndarray, text: str, size: int) -> list[Label]:
    """Places for the length: in the shaft of the arrow, else on its side away from the slab; the middle first."""
    shaft = tips[1] - tips[0]
    across = np.array([-shaft[1], shaft[0]]) / max(np.linalg.norm(shaft), 1e-9)
    away = across * np.sign(across @ (tips - witnesses).mean(axis=0))
    reach = abs(across[0]) * text_width(text, size) / 2 + abs(across[1]) * size * 0.68
    return [
        Label(text, *(tips.mean(axis=0) + share * shaft + aside * away), size)
        for aside in (0.0, reach + 0.6 * size)
        for share in (0, 0.12, -0.12, 0.24, -0.24)
    ]


def _leader(ends: np.ndarray, label: Label) -> np.ndarray:
    """(2, 2) from the nearer end of a station to the rim of its label."""
    box = label.box()
    end = min(ends, key=lambda point: box.distance(shapely.Point(point)))
    return shapely.get_coordinates(shapely.shortest_line(shapely.Point(end), box))


def _plain(quantity: Mapping) -> dict:
    return {"value": quantity["value"], "u": quantity["u"]}


def _shape(points: np.ndarray) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon(points)) if len(points) > 2 else shapely.Point(points[0])
