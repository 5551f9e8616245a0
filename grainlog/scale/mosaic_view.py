"""The joined picture of several photos of one slab, and any other square-on view of it (see `mosaic`).

Photos of one slab differ in exposure and white balance, which would draw a line where they meet: they are matched in
brightness and colour by what both of them show, and in nothing else.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np

from grainlog.scale.flat import FlatView
from grainlog.scale.mosaic import FRAME_PX, MosaicPlane, Sheet
from grainlog.scale.plane import MOST_SLANT_DEG, FaceViewer

#: Photos are matched in colour by what both show, at this size, mm per px, and never by more than this factor.
MATCHED_MM_PER_PX, MOST_GAIN = 12.0, 2.0
#: Rows of a view that are shared out at a time: places in double precision take much memory.
BAND_ROWS = 256
#: Levels that say nothing of a photo's exposure.
BLACK, BURNT_OUT = 12, 240


@dataclass(frozen=True)
class MosaicViewer:
    """Several photos and their solved plane: shows the face square-on (see `flat.Viewer`).

    photos : tuple of (h, w, 3) uint8
        In the order of the solution's views.
    """

    plane: MosaicPlane
    photos: tuple[np.ndarray, ...]

    @cached_property
    def viewers(self) -> tuple[FaceViewer, ...]:
        """Each photo's own view of the plane, matched in colour to the first."""
        viewers = [FaceViewer(plane, rgb) for plane, rgb in zip(self.plane.planes, self.photos)]
        views = [viewer.flat_view(MATCHED_MM_PER_PX, self._bounds()) for viewer in viewers]
        for position, gain in enumerate(_gains([view.rgb for view in views], [view.seen for view in views])):
            table = np.clip(np.arange(256)[:, None] * gain + 0.5, 0, 255).astype(np.uint8)
            if position:
                matched = cv2.LUT(viewers[position].rgb, np.ascontiguousarray(table[:, None]))
                viewers[position] = replace(viewers[position], rgb=matched)
        return tuple(viewers)

    @cached_property
    def picture(self) -> FlatView:
        """The joined picture: its pixels are those of the plane."""
        return self._joined(self.plane.sheet)

    def flat_view(self, mm_per_px: float, bounds_mm: tuple[float, float, float, float] | None = None) -> FlatView:
        """The face square-on, each point from the photo that shows it best; see `FaceViewer.flat_view`."""
        return self._joined(Sheet(bounds_mm or self._bounds(), mm_per_px))

    def _joined(self, sheet: Sheet) -> FlatView:
        width, height = sheet.size_px
        inside, seen = np.zeros((2, len(self.viewers), height, width), bool)
        parts = []
        for index, viewer in enumerate(self.viewers):
            window = _window(sheet, viewer.seen_bounds())
            rows, columns = window
            if rows.stop <= rows.start or columns.stop <= columns.start:
                continue
            first, last = sheet.to_mm(np.array([[columns.start, rows.start], [columns.stop - 1, rows.stop - 1]]))
            places = viewer.map_px(first, columns.stop - columns.start, rows.stop - rows.start, sheet.mm_per_px)
            rgb, seen[index][window] = viewer.sample(places, sheet.mm_per_px, (first + last) / 2)
            frame = np.array(viewer.rgb.shape[1::-1]) - 1 - FRAME_PX
            inside[index][window] = ((places >= FRAME_PX) & (places <= frame)).all(-1)
            parts.append((index, window, rgb))
        which = np.empty((height, width), np.int8)
        for top in range(0, height, BAND_ROWS):
            rows = slice(top, min(top + BAND_ROWS, height))
            band = sheet.to_mm(np.stack(np.meshgrid(np.arange(width), np.arange(rows.start, rows.stop)), -1))
            which[rows] = self.plane.shares.best(band, inside[:, rows], seen[:, rows])
        joined = np.zeros((height, width, 3), np.uint8)
        for index, window, rgb in parts:
            mine = (which[window] == index) & seen[index][window]
            joined[window][mine] = rgb[mine]
        outlines = self.plane.card_outlines_px()
        setup = self.plane.solution.problem.setup
        return FlatView(
            joined,
            seen.any(0),
            sheet.mm_per_px,
            sheet.origin_mm,
            tuple(self.plane.sheet.to_mm(outline) for outline in outlines.values()),
            tuple(setup.on_slab(card) for card in outlines),
            self.plane.camera_mm,
            self.plane.shares.cameras_over,
        )

    def _bounds(self) -> tuple[float, float, float, float]:
        boxes = np.array([plane.shown_bounds(MOST_SLANT_DEG) for plane in self.plane.planes])
        return (*map(float, boxes[:, :2].min(0)), *map(float, boxes[:, 2:].max(0)))


def _window(sheet: Sheet, bounds: tuple[float, float, float, float]) -> tuple[slice, slice]:
    """(rows, columns) of a sheet's pixels that a photo with these bounds can show."""
    corners = sheet.to_px(np.array([[bounds[0], bounds[3]], [bounds[2], bounds[1]]]))
    low = np.clip(np.floor(corners[0]).astype(int), 0, sheet.size_px)
    high = np.clip(np.ceil(corners[1]).astype(int) + 1, 0, sheet.size_px)
    return slice(low[1], high[1]), slice(low[0], high[0])


def _gains(pictures: list[np.ndarray], seen: list[np.ndarray]) -> list[np.ndarray]:
    """(3,) factors of each photo's sRGB values that match it to the ones before it, by the median of what both show."""
    joined, known = pictures[0].astype(np.float32), seen[0].copy()
    gains = [np.ones(3)]
    for picture, shown in zip(pictures[1:], seen[1:]):
        both = known & shown
        pairs = joined[both], picture[both].astype(np.float32)
        clear = np.all([(levels > BLACK) & (levels < BURNT_OUT) for levels in pairs], (0, 2))
        gain = np.ones(3)
        if clear.sum() > 100:
            gain = np.exp(np.median(np.log(pairs[0][clear]) - np.log(pairs[1][clear]), 0))
        gains.append(np.clip(gain, 1 / MOST_GAIN, MOST_GAIN))
        new = shown & ~known
        joined[new], known = picture[new] * gains[-1], known | shown
    return gains
