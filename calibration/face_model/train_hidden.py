"""The recipe of the sixth output: `python -m calibration.face_model.train_hidden --textures FOLDER --out FOLDER`.

The U-Net of `grainlog/face/face_model.onnx` stays as it is; only the head that tells where a face goes on hidden behind
something is trained, on a processor. What the U-Net makes of each view is worked out once and kept in the folder (2 MB a view),
so that the training itself takes minutes; a run that was cut off goes on with the views it has. Writes face_model.onnx and
hidden_curve.csv.
"""

import argparse
import csv
import multiprocessing
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from .hidden_figures import HiddenTally
from .model import WIDTHS, FaceModel, HiddenHead, WholeModel, from_onnx, write_onnx
from .scene import make
from .train import SIDE, inputs, pack, tinted
from .validate import WEIGHTS

FIRST_SEED = 3_000_000
#: Training shows things over the slab more often than photos do; the odds are those of such views.
HIDING = 0.65
SHAPES = {
    "sixteenth": (WIDTHS[3], SIDE // 16, SIDE // 16),
    "eighth": (WIDTHS[2], SIDE // 8, SIDE // 8),
    "quarter": (WIDTHS[1], SIDE // 4, SIDE // 4),
    "truth": (2, SIDE // 4, SIDE // 4),  # share of a pixel that is hidden, share that is seen
}
_face: FaceModel


def _start(weights: Path) -> None:
    global _face
    cv2.setNumThreads(1)
    torch.set_num_threads(1)
    _face = from_onnx(weights).to(memory_format=torch.channels_last)


@torch.no_grad()
def _looked_at(job) -> tuple[list[np.ndarray], float]:
    """What the U-Net makes of the view of a seed, with the truth, in the order of `SHAPES`; mm per pixel."""
    seed, held_out, textures, hiding, plain = job
    sample = make(seed, held_out, SIDE, textures, hiding)
    packed, camera = (torch.from_numpy(part)[None] for part in pack(sample))
    picture = inputs(packed, camera)
    torch.manual_seed(seed)
    decoded = _face.decoded((picture if plain else tinted(picture)).contiguous(memory_format=torch.channels_last))[:3]
    truth = np.stack([sample.hidden, sample.seen]).astype(np.float32).reshape(2, SIDE // 4, 4, SIDE // 4, 4).mean((2, 4))
    return [*(part[0].contiguous().numpy().astype(np.float16) for part in decoded), truth.astype(np.float16)], sample.mm_per_px


class Kept:
    """Views as the U-Net sees them, in files of a folder."""

    def __init__(self, folder: Path, name: str, count: int):
        self.count, self.files = count, {}
        self.scale_file = folder / f"{name}_mm_per_px.npy"
        for part, shape in SHAPES.items():
            path = folder / f"{name}_{part}.npy"
            mode = "r+" if path.exists() else "w+"
            self.files[part] = np.lib.format.open_memmap(path, mode, np.float16, (count, *shape) if mode == "w+" else None)
        self.mm_per_px = np.load(self.scale_file) if self.scale_file.exists() else np.zeros(count)

    @property
    def made(self) -> int:
        """How many there are."""
        return int((self.mm_per_px > 0).sum())

    def fill(self, pool, jobs) -> None:
        """Make those that are not there yet, in order."""
        for k, (parts, mm_per_px) in enumerate(pool.imap(_looked_at, jobs[self.made :], chunksize=4), self.made):
            for file, part in zip(self.files.values(), parts):
                file[k] = part
            self.mm_per_px[k] = mm_per_px
            if k % 100 == 99:
                np.save(self.scale_file, self.mm_per_px)
                print(f"{k + 1} views", flush=True)
        np.save(self.scale_file, self.mm_per_px)

    def batch(self, which) -> tuple[list[torch.Tensor], torch.Tensor]:
        """Decoded maps, and the truth, of some views."""
        parts = [torch.from_numpy(file[which].astype(np.float32)) for file in self.files.values()]
        return [part.contiguous(memory_format=torch.channels_last) for part in parts[:3]], parts[3]


def loss_of(logits: torch.Tensor, truth: torch.Tensor) -> torch.Tensor:
    """Cross entropy where the view is seen, and one less the soft overlap of what is hidden in the whole batch."""
    hidden, seen = truth[:, 0], truth[:, 1]
    entropy = (F.binary_cross_entropy_with_logits(logits[:, 0], hidden, reduction="none") * seen).sum() / seen.sum()
    guess = logits[:, 0].sigmoid() * seen
    both = (guess * hidden).sum()
    return entropy + 0.1 * (1 - (both + 1) / ((guess + hidden).sum() - both + 1))


@torch.no_grad()
def tallied(head: HiddenHead, kept: Kept) -> HiddenTally:
    """Its figures on kept views, at a quarter of their resolution."""
    head.eval()
    tally = HiddenTally()
    for k in range(kept.made):
        decoded, truth = kept.batch(slice(k, k + 1))
        thought = head(decoded)[0, 0].numpy() > 0
        tally.add(thought, truth[0, 0].numpy() > 0.5, truth[0, 1].numpy() > 0.5, 4 * kept.mm_per_px[k])
    head.train()
    return tally


def fit(kept: Kept, sets: dict[str, Kept], steps: int, batch: int, rate: float) -> tuple[HiddenHead, list[dict]]:
    """Train; the averaged head and the rows of the curve."""
    head = HiddenHead().to(memory_format=torch.channels_last)
    mean = torch.optim.swa_utils.AveragedModel(
        head, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.995), use_buffers=True
    )
    optimiser = torch.optim.AdamW(head.parameters(), lr=rate, weight_decay=0.01)
    draw = np.random.default_rng(1)
    order, rows, recent, start = np.zeros(0, int), [], [], time.monotonic()
    for step in range(1, steps + 1):
        if len(order) < batch:
            order = np.r_[order, draw.permutation(kept.made)]
        which, order = np.sort(order[:batch]), order[batch:]
        for group in optimiser.param_groups:
            group["lr"] = rate * min(1.0, step / 100) * (0.5 + 0.5 * np.cos(np.pi * step / steps)) + 1e-6
        decoded, truth = kept.batch(which)
        loss = loss_of(head(decoded), truth)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(head.parameters(), 2.0)
        optimiser.step()
        mean.update_parameters(head)
        recent.append(float(loss.detach()))
        if step % max(1, steps // 12) == 0 or step == steps:
            row = {"seconds": round(time.monotonic() - start), "step": step, "loss": round(float(np.mean(recent)), 4)}
            for name, views in sets.items():
                tally = tallied(mean.module, views)
                much, told, none, wrong = tally.views(0.02, 0.008)
                row |= {f"{name}_precision": round(tally.precision, 3), f"{name}_recall": round(tally.recall, 3),
                        f"{name}_told": f"{told}/{much}", f"{name}_false": f"{wrong}/{none}"}  # fmt: skip
            rows.append(row)
            recent = []
            print(row, flush=True)
    return mean.module, rows


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--textures", help="folder of photographed grounds (JPEG)")
    parser.add_argument("--out", type=Path, default=Path("hidden_head"))
    parser.add_argument("--views", type=int, default=3000)
    parser.add_argument("--tried", type=int, default=100, help="views of each kind behind the curve")
    parser.add_argument("--steps", type=int, default=2400)
    parser.add_argument("--batch", type=int, default=16)
    parser.add_argument("--rate", type=float, default=3e-3)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--weights", type=Path, default=WEIGHTS, help="the network whose head is trained")
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    kept = Kept(wanted.out, "train", wanted.views)
    sets = {name: Kept(wanted.out, name, wanted.tried) for name in ("new_seeds", "held_out")}
    with multiprocessing.get_context("spawn").Pool(wanted.workers, _start, (wanted.weights,)) as pool:
        for (name, views), held_out in zip(sets.items(), (False, True)):
            views.fill(pool, [(seed, held_out, wanted.textures, 0.26, True) for seed in range(wanted.tried)])
        kept.fill(pool, [(FIRST_SEED + k, False, wanted.textures, HIDING, False) for k in range(wanted.views)])
    torch.manual_seed(1)
    head, rows = fit(kept, sets, wanted.steps, wanted.batch, wanted.rate)
    torch.save(head.state_dict(), wanted.out / "head.pt")
    write_onnx(WholeModel(from_onnx(wanted.weights), head), wanted.out / "face_model.onnx")
    with open(wanted.out / "hidden_curve.csv", "w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
