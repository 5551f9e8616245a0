"""A line that is known to a few pixels, placed to a part of a pixel."""

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .strip import Strip


def sharpen(strip: Strip, reach: float = 9.0, stiff: float = 0.35) -> tuple[np.ndarray, np.ndarray]:
    """Place a line near the middle of `strip` to a part of a pixel: (offset (n,) mm, contrast (n,) 0..).

    `strip.rgb` is linear light: a pixel across the edge mixes the light of both sides, so only there is half way in
    value half way across. The colours a little inside and a little outside, taken along the edge, span the direction in
    which the step is
    clearest against the noise (Fisher 1936); along it the steepest place is followed by dynamic programming and then
    taken as the centre of gravity of the steps around it.
    """
    step = strip.offsets[1] - strip.offsets[0]
    colour = gaussian_filter1d(strip.rgb, 1.0, axis=0, mode="wrap")
    s = strip.offsets
    along = max(15.0 / strip.step, 0.5)
    inner = colour[:, (s >= -reach) & (s <= -reach / 3)]
    outer = colour[:, (s >= reach / 3) & (s <= reach)]
    inside, outside = (gaussian_filter1d(part.mean(1), along, axis=0, mode="wrap") for part in (inner, outer))
    noise = ((inner - inside[:, None]) ** 2).mean((0, 1)) + ((outer - outside[:, None]) ** 2).mean((0, 1))
    noise = noise + 1e-3 * ((inside + outside) / 2).mean() ** 2 + 1e-8
    apart = (outside - inside) / noise
    strength = np.maximum(((outside - inside) * apart).sum(-1), 1e-6)
    v = np.clip(((colour - inside[:, None]) * apart[:, None]).sum(-1) / strength[:, None], -0.5, 1.5)
    steep = np.diff(gaussian_filter1d(v, 0.6 / step, axis=1), axis=1)
    between = (s[1:] + s[:-1]) / 2
    usable = np.abs(between) <= reach - 2
    gain = np.where(usable[None], np.clip(steep, 0, None) / max(step, 1e-9), -1.0) - 0.02 * np.abs(between)[None]
    gain = gain * np.clip(np.sqrt(strength) / 1.5, 0.1, 1)[:, None]
    line = _best_line(gain.astype(np.float32), stiff * step)
    window = np.abs(between[None] - between[line][:, None]) <= 2.0 + step / 4
    mass = np.where(window & usable[None], np.clip(steep, 0, None), 0) + 1e-9
    centre = (mass * between[None]).sum(1) / mass.sum(1)
    # Without a step the centre of gravity is noise about the line.
    trust = np.clip(np.sqrt(strength) / 1.0, 0, 1)
    return trust * centre + (1 - trust) * between[line], np.sqrt(strength)


def _best_line(gain, stiff) -> np.ndarray:
    """(n,) index of the closed line of the greatest gain; moving by one sample costs `stiff`."""
    n, m = gain.shape
    lead = min(30, n)
    order = np.concatenate([np.arange(n - lead, n), np.arange(n), np.arange(lead)])
    reached = np.empty((len(order), m), np.float32)
    reached[0] = gain[order[0]]
    for i in range(1, len(order)):
        best = reached[i - 1].copy()
        for _ in range(3):
            before = best.copy()
            np.maximum(best[1:], before[:-1] - stiff, out=best[1:])
            np.maximum(best[:-1], before[1:] - stiff, out=best[:-1])
        reached[i] = best + gain[order[i]]
    line = np.empty(len(order), int)
    line[-1] = int(reached[-1].argmax())
    for i in range(len(order) - 2, -1, -1):
        low = max(line[i + 1] - 3, 0)
        part = reached[i, low : line[i + 1] + 4]
        line[i] = low + int((part - stiff * np.abs(np.arange(low, low + len(part)) - line[i + 1])).argmax())
    return line[lead : lead + n]
