"""What stands beside checks on the marked photo: name, length and greatest width of the longest, so that all can be read."""

from collections.abc import Callable, Mapping

import numpy as np
import shapely

from grainlog.picture.lettering import Label, place_label
from grainlog.units.factors import MM_PER_INCH

#: So many checks carry their numbers, the longest and the widest first; of the others the line alone is drawn.
MOST_LABELLED = 8
#: Labels keep this far from the lines of checks, in letters' heights.
_CLEAR = 0.25


def check_labels(
    record: Mapping, units: str, shrink: Callable[[np.ndarray], np.ndarray], size: int, picture_px: tuple[int, int]
) -> list[Label]:
    """Labels of a record's checks, beside them and clear of one another as far as there is room.

    shrink : photo px to px of the picture
    size : of the letters, px
    picture_px : width and height of the picture
    """
    checks = [check for check in record.get("checks") or () if len(check.get("path_px") or ()) > 1]
    if not checks:
        return []
    size = max(9, size)
    paths = [shrink(check["path_px"]) for check in checks]
    taken = [shapely.LineString(path).buffer(_CLEAR * size) for path in paths]
    cards = ((record.get("scale") or {}).get("cards_px") or {}).values()
    taken += [shapely.make_valid(shapely.Polygon(shrink(corners))) for corners in cards if len(corners) > 2]
    labels = []
    for place in _told(checks):
        label = written(checks[place], units)
        labels.append(place_label(_beside(paths[place], label, size), taken, *picture_px))
    return labels


def written(check: Mapping, units: str) -> str:
    """'E1 146 x 4.2 mm', '5 3/4 x 1/8 in': name where it has one, length, greatest width."""
    length, width = float(check.get("length_mm") or 0.0), float(check.get("max_width_mm") or 0.0)
    name = f"{check['name']} " if check.get("name") else ""
    if units == "mm":
        return f"{name}{length:.0f} x {width:.1f} mm"
    return f"{name}{length / MM_PER_INCH:.1f} x {width / MM_PER_INCH:.2f} in"


def _told(checks) -> list[int]:
    """Places of the checks that carry numbers: the widest, and the longest."""
    by_length = sorted(range(len(checks)), key=lambda place: -float(checks[place].get("length_mm") or 0.0))
    widest = max(range(len(checks)), key=lambda place: float(checks[place].get("max_width_mm") or 0.0))
    return list(dict.fromkeys([*by_length[: MOST_LABELLED - 1], widest]))


def _beside(path: np.ndarray, text: str, size: int) -> list[Label]:
    """Places beside a check: over and under its middle, then its tips, then farther off."""
    chord = path[-1] - path[0]
    across = np.array([-chord[1], chord[0]]) / max(float(np.linalg.norm(chord)), 1e-9)
    if across[1] > 0:
        across = -across
    spots = (path[len(path) // 2], path[-1], path[0])
    # A label lies level whatever way the check runs: beside an upright one it has to clear half its own width.
    reach = size * (0.95 + abs(across[0]) * 0.26 * len(text))
    return [
        Label(text, *(spot + side * far * reach * across), size) for far in (1.0, 1.9, 2.8) for spot in spots for side in (1, -1)
    ]
