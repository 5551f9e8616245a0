"""The recipe: `python -m calibration.face_model.train --textures FOLDER --out FOLDER --minutes 8`.

Views are generated on all cores while the GPU trains on those it has so far; none is ever stored on disk. Writes
face_model.onnx, curve.csv and figures.md; the weights and the curve so far are written with every row of it. The learning
rate follows the clock, so a run is repeatable in kind, not bit for bit.
"""

import argparse
import copy
import csv
import multiprocessing
import os
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from .figures import Tally, by_ground, table
from .model import FaceModel, from_onnx, to_train_on, write_onnx
from .scene import IGNORE, make

#: Rare classes count more; kept mild, because the result is used as probabilities.
CLASS_WEIGHTS = (1.0, 1.5, 2.0, 1.0, 1.0)
FIRST_TRAINING_SEED = 1_000_000
SIDE = 448


def _start():
    cv2.setNumThreads(1)


def _view(job):
    seed, held_out, textures = job
    sample = make(seed, held_out, SIDE, textures)
    return sample, pack(sample)


def _bare(job):
    """A packed view; a seed on which the generator fails is named and passed over, so that a lent hour is not lost."""
    try:
        return _view(job)[1]
    except (ValueError, cv2.error) as problem:
        print(f"seed {job[0]} failed: {problem}", flush=True)
        return _bare((job[0] + 10**8, *job[1:]))


def pack(sample) -> tuple[np.ndarray, np.ndarray]:
    """(5, n, n) uint8 (red, green, blue, cards + 2 seen, label) and the camera."""
    flags = sample.cards.astype(np.uint8) + 2 * sample.seen.astype(np.uint8)
    return np.stack([*np.moveaxis(sample.rgb, -1, 0), flags, sample.label]), sample.camera


def inputs(packed: torch.Tensor, camera: torch.Tensor) -> torch.Tensor:
    """(n, 5, h, w) uint8 and (n, 3) to (n, 7, h, w) float: as `grainlog.face.network` prepares a view."""
    n, _, h, w = packed.shape
    rgb = packed[:, :3].float() / 255
    cards = (packed[:, 3:4] & 1).float()
    seen = (packed[:, 3:4] >> 1).float()
    rgb = (rgb - 0.5) * 2 * seen
    column = torch.arange(w, device=packed.device)[None, None, None, :].expand(n, 1, h, w)
    row = torch.arange(h, device=packed.device)[None, None, :, None].expand(n, 1, h, w)
    toward = [
        (at - camera[:, k, None, None, None]) / camera[:, 2, None, None, None] for k, at in enumerate((column, row))
    ]
    return torch.cat([rgb, cards, 1 - seen, *[part.clamp(-2, 2) for part in toward]], 1)


def varied(packed: torch.Tensor, camera: torch.Tensor, side: int):
    """A random window, flip and quarter turn of a batch, with the camera moved alike."""
    n, _, h, w = packed.shape
    top, left = np.random.randint(0, h - side + 1), np.random.randint(0, w - side + 1)
    packed, camera = packed[:, :, top : top + side, left : left + side], camera.clone()
    camera[:, 0] -= left
    camera[:, 1] -= top
    if np.random.rand() < 0.5:
        packed, camera[:, 0] = packed.flip(3), side - 1 - camera[:, 0]
    if np.random.rand() < 0.5:
        packed, camera[:, 1] = packed.flip(2), side - 1 - camera[:, 1]
    if np.random.rand() < 0.5:
        packed, camera = packed.transpose(2, 3), camera[:, [1, 0, 2]]
    return packed, camera


def tinted(picture: torch.Tensor) -> torch.Tensor:
    """Other light on every view; in one of eight the cards are not told."""
    n = len(picture)
    gain = (
        1
        + 0.12 * torch.randn(n, 3, 1, 1, device=picture.device)
        + 0.12 * torch.randn(n, 1, 1, 1, device=picture.device)
    )
    seen = 1 - picture[:, 4:5]
    rgb = ((picture[:, :3] + 1) / 2 * gain).clamp(0, 1) * 2 - 1
    told = (torch.rand(n, 1, 1, 1, device=picture.device) > 0.125).float()
    return torch.cat([rgb * seen, picture[:, 3:4] * told, picture[:, 4:]], 1)


def loss_of(logits, label, weights):
    """Cross entropy, and the soft overlap of the wood so that large mistakes of area count."""
    label = label.long()
    entropy = F.cross_entropy(logits, label, weights, ignore_index=IGNORE)
    known = (label != IGNORE).float()
    wood = (label == 0).float()
    guess = logits.softmax(1)[:, 0] * known
    both = (guess * wood).sum((1, 2))
    overlap = (both + 500) / ((guess + wood * known).sum((1, 2)) - both + 500)
    return entropy + 0.3 * (1 - overlap).mean()


@torch.no_grad()
def guesses(model, packs, device, batch=16):
    """(h, w) uint8 class maps of packed views."""
    model.eval()
    found = []
    for k in range(0, len(packs), batch):
        packed = torch.from_numpy(np.stack([p[0] for p in packs[k : k + batch]])).to(device)
        camera = torch.from_numpy(np.stack([p[1] for p in packs[k : k + batch]])).to(device)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            logits = model(inputs(packed, camera).contiguous(memory_format=torch.channels_last))
        found += list(logits.argmax(1).to(torch.uint8).cpu().numpy())
    model.train()
    return found


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--textures", help="folder of photographed grounds (JPEG)")
    parser.add_argument("--out", type=Path, default=Path("face_model"))
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--batch", type=int, default=96)
    parser.add_argument("--side", type=int, default=416)
    parser.add_argument("--store", type=int, default=36000, help="views kept at most; the oldest make room")
    parser.add_argument("--rate", type=float, default=2.2e-3)
    parser.add_argument("--views", type=int, default=300, help="views in each validation set")
    parser.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 3))
    parser.add_argument("--seed", type=int, default=20251125)
    parser.add_argument("--first", type=int, default=FIRST_TRAINING_SEED, help="seed of the first view")
    parser.add_argument("--start", type=Path, help="weights.pt of a run, or a face_model.onnx, to go on from")
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    torch.manual_seed(wanted.seed)
    np.random.seed(wanted.seed % 2**32)
    begin = time.monotonic()
    pool = multiprocessing.get_context("fork").Pool(wanted.workers, _start)  # before the GPU is touched
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    sets = {
        name: pool.map(_view, [(seed, held, wanted.textures) for seed in range(wanted.views)], chunksize=2)
        for name, held in (("new seeds", False), ("held out", True))
    }
    print(f"validation views: {time.monotonic() - begin:.0f} s", flush=True)
    source = pool.imap_unordered(
        _bare, ((seed, False, wanted.textures) for seed in range(wanted.first, wanted.first + 10**7))
    )
    model, rows = fit(wanted, source, sets, device, begin)
    pool.terminate()
    save(model, rows, wanted.out)
    report(model.to(device), sets, device, wanted.out / "figures.md")


def save(model, rows, out: Path) -> None:
    """The weights, the network and the curve so far; each file is whole at every moment."""
    kept = copy.deepcopy(model)
    torch.save(kept.state_dict(), out / "weights.part")
    write_onnx(kept, out / "face_model.part")
    with open(out / "curve.part", "w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    for name in ("weights.pt", "face_model.onnx", "curve.csv"):
        (out / name).with_suffix(".part").replace(out / name)


def fit(wanted, source, sets, device, begin):
    """Train until the time is up; the averaged model and the rows of the curve."""
    store = torch.empty((wanted.store, 5, SIDE, SIDE), dtype=torch.uint8, device=device)
    cameras = torch.empty((wanted.store, 3), device=device)
    made, step, rows, recent, last = 0, 0, [], [], time.monotonic()

    def take(count):
        nonlocal made
        for _ in range(count):
            packed, camera = next(source)
            store[made % wanted.store] = torch.from_numpy(packed).to(device)
            cameras[made % wanted.store] = torch.from_numpy(camera).to(device)
            made += 1

    take(4 * wanted.batch)
    model = begun(wanted.start, inputs(store[:wanted.batch], cameras[:wanted.batch])).to(memory_format=torch.channels_last)
    mean = torch.optim.swa_utils.AveragedModel(
        model, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    decay = [p for p in model.parameters() if p.ndim > 1]
    rest = [p for p in model.parameters() if p.ndim <= 1]
    optimiser = torch.optim.AdamW(
        [{"params": decay, "weight_decay": 0.02}, {"params": rest, "weight_decay": 0.0}],
        lr=wanted.rate,
        fused=device.type == "cuda",
    )
    weights = torch.tensor(CLASS_WEIGHTS, device=device)
    start, length = time.monotonic(), wanted.minutes * 60
    while (spent := time.monotonic() - start) < length:
        fresh = waiting(source)
        take(min(fresh, 24) if made > 10 * wanted.batch else max(8, min(fresh, 24)))
        share = spent / length
        rate = wanted.rate * min(1.0, share / 0.04 + 0.05) * (0.5 + 0.5 * np.cos(np.pi * share)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        pick = torch.randint(0, min(made, wanted.store), (wanted.batch,), device=device)
        packed, camera = varied(store[pick], cameras[pick], wanted.side)
        picture = tinted(inputs(packed, camera)).contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            logits = model(picture)
        loss = loss_of(logits.float(), packed[:, 4], weights)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        optimiser.step()
        mean.update_parameters(model)
        recent.append(loss.detach())
        step += 1
        if time.monotonic() - last > length / 14:
            rows.append(_row(mean.module, sets, device, time.monotonic() - start, step, made, recent, rate))
            recent, last = [], time.monotonic()
            print(rows[-1], flush=True)
            save(mean.module, rows, wanted.out)
    rows.append(_row(mean.module, sets, device, time.monotonic() - start, step, made, recent or [loss.detach()], rate))
    print(rows[-1], f"whole {time.monotonic() - begin:.0f} s", flush=True)
    return mean.module, rows


def begun(weights: Path | None, pictures: torch.Tensor) -> FaceModel:
    """A network to train: a new one, the one of a weights.pt, or the one of a face_model.onnx."""
    if weights is None:
        return FaceModel().to(pictures.device)
    if weights.suffix == ".onnx":
        return to_train_on(from_onnx(weights).to(pictures.device), pictures)
    model = FaceModel()
    model.load_state_dict(torch.load(weights, map_location="cpu", weights_only=True))
    return model.to(pictures.device)


def waiting(source) -> int:
    """How many finished views wait to be taken."""
    return len(source._items)


def _row(model, sets, device, spent, step, made, recent, rate):
    row = {
        "seconds": round(spent),
        "step": step,
        "views": made,
        "rate": f"{rate:.2e}",
        "loss": round(float(torch.stack(recent).mean()), 4),
    }
    for name, views in sets.items():
        tally = Tally()
        part = views[:96]
        for (sample, _), guess in zip(part, guesses(model, [pack for _, pack in part], device)):
            tally.add(sample.label, guess)
        key = name.replace(" ", "_")
        row[f"{key}_wood_iou"] = round(tally.overlap, 4)
        row[f"{key}_recall"] = " ".join(f"{r:.3f}" for r in tally.recall)
    return row


def report(model, sets, device, path):
    """Tables of the whole validation sets."""
    lines = []
    for name, views in sets.items():
        samples = [sample for sample, _ in views]
        found = guesses(model, [pack for _, pack in views], device)
        whole = Tally()
        for sample, guess in zip(samples, found):
            whole.add(sample.label, guess)
        lines += [f"### {name}", "", table({"all": whole} | by_ground(samples, found)), ""]
    path.write_text("\n".join(lines))
    print("\n".join(lines), flush=True)


if __name__ == "__main__":
    main()
