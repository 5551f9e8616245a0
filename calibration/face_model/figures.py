"""Precision, recall and overlap of class maps against exact labels; no torch."""

from dataclasses import dataclass, field

import numpy as np

from .scene import CLASSES, IGNORE, VOID, WOOD, Sample


@dataclass
class Tally:
    """Counts pixels as views come in."""

    confusion: np.ndarray = field(default_factory=lambda: np.zeros((5, 5), np.int64))
    overlaps: list = field(default_factory=list)

    def add(self, label: np.ndarray, guess: np.ndarray) -> None:
        """One view: (h, w) uint8 labels and guesses."""
        known = label != IGNORE
        pairs = label[known].astype(int) * 5 + guess[known]
        self.confusion += np.bincount(pairs, minlength=25).reshape(5, 5)
        truth, found = (((m == WOOD) | (m == VOID)) & known for m in (label, guess))
        if truth.sum() > 2000:
            self.overlaps.append((truth & found).sum() / (truth | found).sum())

    @property
    def precision(self) -> np.ndarray:
        return np.diag(self.confusion) / np.maximum(self.confusion.sum(0), 1)

    @property
    def recall(self) -> np.ndarray:
        return np.diag(self.confusion) / np.maximum(self.confusion.sum(1), 1)

    @property
    def overlap(self) -> float:
        """Median over views of the overlap (intersection over union) of wood with its checks and holes."""
        return float(np.median(self.overlaps)) if self.overlaps else float("nan")


def table(tallies: dict[str, Tally]) -> str:
    """A Markdown table, one row a tally: precision / recall of each class, median overlap of wood."""
    lines = [
        "| views | " + " | ".join(CLASSES) + " | wood IoU, median | wood IoU, 10th percentile |",
        "|---" * (len(CLASSES) + 3) + "|",
    ]
    for name, tally in tallies.items():
        cells = [f"{100 * p:.1f} / {100 * r:.1f}" for p, r in zip(tally.precision, tally.recall)]
        low = np.quantile(tally.overlaps, 0.1) if tally.overlaps else float("nan")
        lines.append(
            f"| {name} ({len(tally.overlaps)}) | " + " | ".join(cells) + f" | {tally.overlap:.3f} | {low:.3f} |"
        )
    return "\n".join(lines)


def by_ground(samples: list[Sample], guesses: list[np.ndarray]) -> dict[str, Tally]:
    """One tally a ground."""
    tallies: dict[str, Tally] = {}
    for sample, guess in zip(samples, guesses):
        tallies.setdefault(sample.ground, Tally()).add(sample.label, guess)
    return dict(sorted(tallies.items()))
