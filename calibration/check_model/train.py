"""The recipe: `python -m calibration.check_model.train --out FOLDER --minutes 22 --workers 9`.

Views are made on the cores (calibration.check_model.generate) while the network is trained on random pieces of those there
are so far; none is stored on disk. Writes check_model.onnx, curve.csv and figures.json; the weights and the curve so far are
written with every row of it. The rate follows the clock, so a run is repeatable in kind, not bit for bit.
"""

import argparse
import copy
import csv
import json
import multiprocessing
import os
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from .generate import EITHER, YES, sample
from .model import CheckModel, write_onnx

#: Training begins here; seeds below are for tests and looks.
FIRST_SEED = 1000
#: So many of the views, at most, are kept for validation.
VALIDATION = 60
TALL, WIDE = 256, 256


def _start():
    cv2.setNumThreads(1)
    os.nice(5)


def _try(seed):
    try:
        return seed, *sample(seed)
    except Exception as problem:  # a seed in a thousand makes no slab; it is named in the log
        return seed, None, repr(problem)


def views(workers: int, first: int):
    """Views as they are ready, without end: (picture, label) each; a seed that makes no slab is named and passed over."""
    with multiprocessing.get_context("fork").Pool(workers, _start) as pool:
        source = pool.imap_unordered(_try, range(first, first + 10**7))
        while True:
            if not source._items:
                yield None
                continue
            seed, picture, label = next(source)
            if picture is None:
                print(f"seed {seed}: {label}", flush=True)
            else:
                yield picture, label


def pieces(store, count, rng, device):
    """`count` random pieces, half of them around a check: pictures (n, 3, h, w) float and labels (n, h / 2, w / 2)."""
    pictures, labels = [], []
    for index in rng.integers(0, len(store), count):
        picture, label, places = store[index]
        h, w = label.shape[-2:]
        high, wide = min(TALL // 2, h // 8 * 8), min(WIDE // 2, w // 8 * 8)
        if len(places) and rng.random() < 0.5:
            r, c = places[rng.integers(len(places))]
            top, left = r - rng.integers(0, high), c - rng.integers(0, wide)
        else:
            top, left = rng.integers(0, h - high + 1), rng.integers(0, w - wide + 1)
        top, left = int(np.clip(top, 0, h - high)), int(np.clip(left, 0, w - wide))
        part = picture[:, 2 * top : 2 * (top + high), 2 * left : 2 * (left + wide)]
        known = label[top : top + high, left : left + wide]
        flips = [axis for axis in (1, 2) if rng.random() < 0.5]
        if flips:
            part, known = part.flip(flips), known.flip([axis - 1 for axis in flips])
        pad = (0, WIDE - part.shape[2], 0, TALL - part.shape[1])
        pictures.append(F.pad(part, pad, value=128))
        labels.append(F.pad(known, (0, pad[1] // 2, 0, pad[3] // 2)))
    picture = (torch.stack(pictures).float() - 128) / 127
    gain = 1 + 0.15 * torch.randn(count, 1, 1, 1, device=device)
    warm = 1 + 0.4 * torch.randn(count, 1, 1, 1, device=device)
    picture = torch.cat([picture[:, :1] * gain, picture[:, 1:2] * warm, picture[:, 2:]], 1)
    return picture, torch.stack(labels)


def loss_of(odds, label):
    """Cross entropy in which a check counts more, and the soft overlap of the checks."""
    known, yes = (label != EITHER).float(), (label == YES).float()
    entropy = F.binary_cross_entropy_with_logits(odds, yes, weight=known * (1 + 2 * yes))
    guess = odds.sigmoid() * known
    both = (guess * yes).sum()
    return 8 * entropy + 1 - 2 * (both + 1) / (guess.sum() + yes.sum() + 2)


@torch.no_grad()
def figures(model, store, device):
    """Recall and precision by cells over whole views, at half odds."""
    model.eval()
    right = found = true = 0
    for picture, label, _ in store:
        h, w = (side // 16 * 16 for side in picture.shape[1:])
        odds = model((picture[None, :, :h, :w].float() - 128) / 127)[0, 0]
        label = label[: h // 2, : w // 2]
        yes, said = label == YES, (odds > 0) & (label != EITHER)
        right, found, true = right + int((yes & said).sum()), found + int(said.sum()), true + int(yes.sum())
    model.train()
    return {"recall": round(right / max(true, 1), 4), "precision": round(right / max(found, 1), 4)}


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("check_model"))
    parser.add_argument("--minutes", type=float, default=22.0, help="of training; the first views come before")
    parser.add_argument("--held", type=int, default=VALIDATION, help="views kept for validation, the first that are ready")
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--rate", type=float, default=4e-3)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 2)
    parser.add_argument("--seed", type=int, default=20251125)
    parser.add_argument("--first", type=int, default=FIRST_SEED, help="seed of the first view")
    parser.add_argument("--start", type=Path, help="weights.pt of a run that was cut off, to go on from")
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    source = views(wanted.workers, wanted.first)
    next(source)  # the workers start before the GPU is touched
    torch.manual_seed(wanted.seed)
    rng = np.random.default_rng(wanted.seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")

    def taken(least: int) -> list:
        """What is ready, at least so many, on the device, with the places of its checks."""
        got = []
        while (view := next(source)) is not None or len(got) < least:
            if view is None:
                time.sleep(0.05)
                continue
            picture, label = view
            got.append((torch.from_numpy(picture).to(device), torch.from_numpy(label).to(device), np.argwhere(label == YES)))
        return got

    held, store = taken(wanted.held), []
    held, store = held[: wanted.held], held[wanted.held :]
    store += taken(max(0, 8 - len(store)))
    model, rows = fit(wanted, taken, held, store, device, rng)
    save(model, rows, wanted.out)
    source.close()


def fit(wanted, taken, held, store, device, rng):
    """Train until the time is up; the averaged model and the rows of the curve."""
    model = CheckModel()
    if wanted.start:
        model.load_state_dict(torch.load(wanted.start, map_location="cpu", weights_only=True))
    model = model.to(device)
    mean = torch.optim.swa_utils.AveragedModel(
        model, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.997), use_buffers=True
    )
    optimiser = torch.optim.AdamW(model.parameters(), lr=wanted.rate, weight_decay=0.01)
    begin, length, last, rows, step, recent = time.monotonic(), wanted.minutes * 60, 0.0, [], 0, []

    def row(spent):
        made = {"seconds": round(spent), "step": step, "views": len(store), "loss": round(float(torch.stack(recent).mean()), 4)}
        rows.append(made | figures(mean.module, held, device))
        print(rows[-1], flush=True)

    while (spent := time.monotonic() - begin) < length:
        store += taken(0)
        share = spent / length
        for group in optimiser.param_groups:
            group["lr"] = wanted.rate * min(1.0, share / 0.04 + 0.05) * (0.5 + 0.5 * np.cos(np.pi * share)) + 1e-6
        picture, label = pieces(store, wanted.batch, rng, device)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            odds = model(picture)
        loss = loss_of(odds.float()[:, 0], label)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        optimiser.step()
        mean.update_parameters(model)
        step += 1
        recent.append(loss.detach())
        if spent - last > length / 12:
            row(spent)
            save(mean.module, rows, wanted.out)
            last, recent = spent, []
    recent = recent or [loss.detach()]
    row(time.monotonic() - begin)
    return mean.module, rows


def save(model, rows, out: Path) -> None:
    """The weights, the network, the curve and the figures so far; each file is whole at every moment."""
    kept = copy.deepcopy(model).float().cpu()
    torch.save(kept.state_dict(), out / "weights.part")
    write_onnx(kept, out / "check_model.part")
    (out / "figures.part").write_text(json.dumps(rows[-1], indent=1))
    with open(out / "curve.part", "w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    for name in ("weights.pt", "check_model.onnx", "figures.json", "curve.csv"):
        (out / name).with_suffix(".part").replace(out / name)


if __name__ == "__main__":
    main()
