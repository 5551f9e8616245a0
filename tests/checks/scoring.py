"""How found checks are held against true ones.

A truth counts as far as it is 0.5 mm wide or more. Recall: share of the true length that a found path passes within 4 mm;
precision: share of the found length that lies within 4 mm of a true check. Length and width: of true checks that one
found check covers by half or more.
"""

from dataclasses import dataclass, field

import numpy as np
import shapely

from grainlog.checks.found import COUNTED_MM, FoundChecks

TOLERANCE_MM = 4.0


@dataclass(frozen=True)
class Truth:
    """A true check in the found slab frame, mm."""

    path: np.ndarray
    width: np.ndarray
    kind: str
    number: int

    @property
    def counted(self) -> np.ndarray:
        """(n, 2) the stretch from the first to the last place that is wide enough."""
        wide = np.flatnonzero(self.width >= COUNTED_MM - 1e-6)
        return self.path[wide[0] : wide[-1] + 1] if len(wide) > 1 else self.path[:0]

    @property
    def length(self) -> float:
        """mm, of the counted stretch."""
        return _length(self.counted)


@dataclass
class Score:
    """Sums over scenes."""

    true_mm: float = 0.0
    met_mm: float = 0.0
    found_mm: float = 0.0
    right_mm: float = 0.0
    checks: int = 0
    false_long: int = 0
    pairs: list = field(default_factory=list)

    @property
    def recall(self) -> float:
        """By length."""
        return self.met_mm / self.true_mm if self.true_mm else 1.0

    @property
    def precision(self) -> float:
        """By length."""
        return self.right_mm / self.found_mm if self.found_mm else 1.0

    def add(self, other: "Score") -> None:
        """Take in another score."""
        for name in ("true_mm", "met_mm", "found_mm", "right_mm", "checks", "false_long"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.pairs += other.pairs


def score(found: FoundChecks, truths: list[Truth], hidden: shapely.Geometry | None = None) -> Score:
    """Compare; what lies under a card (`hidden`, slab frame) counts for nothing."""
    result = Score(checks=sum(t.length > 0 for t in truths))
    lines = [shapely.LineString(c.path) for c in found.checks]
    true_lines = [shapely.LineString(t.path) for t in truths]
    any_found, any_true = shapely.union_all(lines), shapely.union_all(true_lines)
    for truth in truths:
        if truth.length == 0:
            continue
        points = _points(truth.counted, hidden)
        if not len(points):
            continue
        near = shapely.distance(shapely.points(points), any_found) <= TOLERANCE_MM if lines else np.zeros(len(points), bool)
        result.true_mm += len(points)
        result.met_mm += near.sum()
        line = shapely.LineString(truth.counted)
        best, cover = None, 0.0
        for check, other in zip(found.checks, lines):
            share = shapely.intersection(other.buffer(TOLERANCE_MM), line).length
            share /= max(line.length, other.length)
            if share > cover:
                best, cover = check, share
        if cover >= 0.5 and hidden is None:
            result.pairs.append((truth, best))
    for check in found.checks:
        points = _points(check.path, hidden)
        near = shapely.distance(shapely.points(points), any_true) <= TOLERANCE_MM if truths else np.zeros(len(points), bool)
        result.found_mm += len(points)
        result.right_mm += near.sum()
        result.false_long += bool(check.length > 40 and near.mean() < 0.5)
    return result


def summary(result: Score) -> str:
    """One line."""
    pairs = result.pairs
    line = f"recall {result.recall:.3f}, precision {result.precision:.3f}, {result.checks} checks, {len(pairs)} paired"
    if pairs:
        off = np.array([found.length - truth.length for truth, found in pairs])
        true = np.array([truth.length for truth, _ in pairs])
        wide = np.array([found.max_width - truth.width.max() for truth, found in pairs])
        true_wide = np.array([truth.width.max() for truth, _ in pairs])
        kind = np.mean([found.kind == truth.kind for truth, found in pairs])
        length_ok = np.mean((np.abs(off) <= 8) | (np.abs(off) <= 0.1 * true))
        width_ok = np.mean((np.abs(wide) <= 0.4) | (np.abs(wide) <= 0.2 * true_wide))
        within = np.mean(np.abs(off) <= 2 * np.array([found.length_u for _, found in pairs]))
        within_wide = np.mean(np.abs(wide) <= 2 * np.array([found.max_width_u for _, found in pairs]))
        line += (
            f"; length off by {np.median(np.abs(off)):.1f} mm (median; bias {np.median(off):+.1f}), {100 * length_ok:.0f} % "
            f"within 10 % or 8 mm, {100 * within:.0f} % within 2u; width off by {np.median(np.abs(wide)):.2f} mm (bias "
            f"{np.median(wide):+.2f}), {100 * width_ok:.0f} % within 0.4 mm or 20 %, {100 * within_wide:.0f} % within 2u; "
            f"kind right {100 * kind:.0f} %"
        )
    return line


def _length(path) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum()) if len(path) > 1 else 0.0


def _points(path, hidden) -> np.ndarray:
    line = shapely.LineString(path)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(0.5, max(line.length, 0.6), 1.0)))
    return points if hidden is None else points[~shapely.contains_xy(hidden, points[:, 0], points[:, 1])]
