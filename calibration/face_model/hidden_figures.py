"""How well it is told where a face goes on hidden behind something: pixels, and views."""

from dataclasses import dataclass, field

import numpy as np


@dataclass
class HiddenTally:
    """Counts over views."""

    pixels: np.ndarray = field(default_factory=lambda: np.zeros(3, np.int64))
    areas: list = field(default_factory=list)

    def add(self, thought: np.ndarray, hidden: np.ndarray, known: np.ndarray, mm_per_px: float) -> None:
        """One view: (h, w) bool each, where it was thought, where it was so, where the view is seen."""
        thought, hidden = thought & known, hidden & known
        self.pixels += [(thought & hidden).sum(), thought.sum(), hidden.sum()]
        self.areas.append(np.array([hidden.sum(), (thought & hidden).sum(), thought.sum()]) * (mm_per_px / 1000) ** 2)

    @property
    def precision(self) -> float:
        """Share of the pixels thought hidden that are."""
        return float(self.pixels[0] / max(self.pixels[1], 1))

    @property
    def recall(self) -> float:
        """Share of the hidden pixels that were thought so."""
        return float(self.pixels[0] / max(self.pixels[2], 1))

    def views(self, much_m2: float, told_m2: float) -> tuple[int, int, int, int]:
        """Views with `much_m2` or more hidden, those of them in which `told_m2` of it is told; views with none, those of them told."""
        areas = np.array(self.areas)
        much, none = areas[areas[:, 0] >= much_m2], areas[areas[:, 0] == 0]
        return len(much), int((much[:, 1] >= told_m2).sum()), len(none), int((none[:, 2] >= told_m2).sum())

    def sentence(self, much_m2: float = 0.02, told_m2: float = 0.008) -> str:
        """The figures in words."""
        much, told, none, wrong = self.views(much_m2, told_m2)
        return (
            f"pixel precision {100 * self.precision:.1f} %, recall {100 * self.recall:.1f} %; of {much} views with {much_m2} m2 hidden or "
            f"more {told} show {told_m2} m2 of it, of {none} with none {wrong} show so much"
        )
