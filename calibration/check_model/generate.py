"""Made-up flat views with known checks, for training: painted wood, everything that looks like a check, a plain camera.

Half of the faces are painted by `sample_images.render.wood`, half by `calibration.face_model.wood`. Checks are drawn with
edges anti-aliased at 0.5 mm, then the face is lit, photographed (blur, pixels, noise, tone, sharpening, JPEG) and brought
back to a flat view as the pipeline does. No seed of the rendered check scenes is used here.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely

from calibration.face_model import palettes
from calibration.face_model import wood as other_wood
from grainlog.checks.board import lay_board
from grainlog.checks.network import ACROSS_MM, ALONG_MM, picture_of
from grainlog.face.frame import SlabFrame, slab_frame
from grainlog.scale.flat import FlatView
from sample_images.render import noise, solid, wood
from sample_images.render.drying import cracked
from sample_images.render.marks import Marks, draw
from sample_images.render.scene import SPECIES, Slab, Wood

#: A check counts where it is at least this wide, mm.
COUNTED_MM = 0.5
#: Labels: no check, check, either will do.
NO, YES, EITHER = 0, 1, 2


@dataclass(frozen=True)
class Made:
    """One made-up flat view.

    view : FlatView
    outline : (n, 2) float64, the wood as an outline finder would give it (a little off), plane frame, mm
    wood : (n, 2) float64, the true wood, plane frame, mm
    holes : tuple
    frame : SlabFrame
    checks : tuple of solid.Check, paths in the plane frame, mm
    """

    view: FlatView
    outline: np.ndarray
    wood: np.ndarray
    holes: tuple
    frame: SlabFrame
    checks: tuple[solid.Check, ...]


def make(seed: int, mm_per_px: float | None = None) -> Made:
    """The view of a seed: the same every time."""
    rng = np.random.default_rng([seed, 777])
    slab = Slab(
        form=str(rng.choice(["plain", "flare", "hook"])),
        length_mm=float(rng.uniform(420, 900)),
        width_mm=float(rng.uniform(220, 430)),
        thickness_mm=60.0,
        taper=float(rng.uniform(0, 0.2)),
        wobble_mm=float(rng.uniform(4, 16)),
        flank_mm=20.0,
        bark_mm=float(rng.uniform(3, 14)),
        bark_missing=float(rng.choice([0.0, 0.5, 1.0])),
        end_skew_rad=tuple(rng.normal(0, 0.05, 2).clip(-0.12, 0.12)),
        void=False,
        seed=int(rng.integers(1 << 30)),
    )
    species = str(rng.choice(SPECIES))
    what = Wood(species, bool(rng.random() < 0.35), int(rng.integers(0, 7)), float(rng.uniform(0, 1)), 0, 0, int(rng.integers(1 << 30)))
    built = solid.build(slab, what)
    checks = cracks(built.wood, rng) if rng.random() < 0.75 else ()
    built = replace(built, checks=checks)
    picture = wood.paint(replace(built, checks=()), what)
    if rng.random() < 0.5:
        picture = _other_painter(picture, rng)
    heavy = rng.uniform(0.3, 2.0)
    marks = Marks(
        seed=int(rng.integers(1 << 30)),
        pencil=rng.poisson(3.5 * heavy),
        stain=rng.poisson(0.7 * heavy),
        tags=int(rng.random() < 0.3),
        bark_pockets=rng.poisson(1.0 * heavy),
        pith=rng.poisson(0.5 * heavy),
        streaks=rng.poisson(2.5 * heavy),
        wet_patches=int(rng.random() < 0.25),
        lines=rng.poisson(4.0 * heavy),
        saw=float(rng.uniform(0, 1.5) * (rng.random() < 0.7)),
    )
    picture = draw(picture, built, species, marks)
    colour = np.clip(picture.wood * rng.normal(1, 0.10, 3).astype(np.float32) * np.float32(rng.uniform(0.7, 1.15)), 0.01, 0.97)
    picture = _with_cracks(replace(picture, wood=colour), checks, rng)
    return photographed(picture, built, mm_per_px, rng)


def _other_painter(picture, rng):
    h, w = picture.wood.shape[:2]
    mm = picture.size_mm[0] / w
    u, v = np.meshgrid(np.arange(w, dtype=np.float32) * np.float32(mm), np.arange(h, dtype=np.float32) * np.float32(mm))
    _, heart, sap = palettes.pick(rng, False)
    face = other_wood.face(rng, u - u.mean(), v - v.mean(), mm, heart, sap, None, rng.random() < 0.6)
    return replace(picture, wood=face)


def _with_cracks(picture, checks, rng):
    """Checks are dark, not always black: shallow ones show their bottom, dust lies in some."""
    for check in checks:
        dark = rng.uniform(0.02, 0.13) * np.array([1.0, rng.uniform(0.8, 1.0), rng.uniform(0.7, 1.0)])
        picture = cracked(picture, (check,), dark)
    return picture


def cracks(face: shapely.Polygon, rng) -> tuple[solid.Check, ...]:
    """Checks of all sorts: from ends, on the face, single, side by side, stepped."""
    made, (left, low, right, high) = [], face.bounds
    clear = []
    for _ in range(rng.integers(3, 24)):
        end = rng.random() < 0.45
        long = float(np.exp(rng.uniform(np.log(22), np.log(330))))
        wide = float(np.exp(rng.uniform(np.log(0.6), np.log(8.5 if end else 3.0))))
        wide = min(wide, long / 9)
        count = rng.choice([1, 2, 3], p=[0.75, 0.17, 0.08])
        y = rng.uniform(low, high)
        x = rng.choice([left - 15, right + 15]) if end else rng.uniform(left, right)
        way = 1 if x < (left + right) / 2 else -1
        for _ in range(count):
            check = _one(face, x, y, way, long * rng.uniform(0.6, 1), wide, "end" if end else "surface", rng)
            y += rng.choice([-1, 1]) * rng.uniform(5, 16)
            x += 0 if end else rng.normal(0, 40)
            if check is None or any(line.distance(shapely.LineString(check.path)) < 4 for line in clear):
                continue
            made.append(check)
            clear.append(shapely.LineString(check.path))
    return tuple(made)


def _one(face, x, y, way, long, wide, kind, rng):
    t = np.linspace(0, 1, max(10, int(long / 2)))
    lean = rng.normal(0, 0.05) if rng.random() < 0.8 else rng.normal(0, 0.25)
    wander = noise.line(t * long, 70, rng) * 1.6 + noise.line(t * long, 12, rng) * rng.uniform(0.1, 0.6)
    if rng.random() < 0.2:  # steps sideways, as a check does that jumps from ray to ray
        wander = wander + rng.normal(0, 1.5) * noise.smoothstep(t, (s := rng.uniform(0.2, 0.8)) - 0.03, s + 0.03)
    path = np.column_stack([x + way * t * long, y + wander - wander[0] + lean * t * long])
    if kind == "end":
        taper = (1 - t) ** rng.uniform(0.5, 1.1)
    else:
        taper = np.sin(np.pi * t) ** rng.uniform(0.4, 0.9)
    width = wide * taper * (1 + 0.15 * noise.line(t * long, 25, rng)).clip(0.5, 1.5)
    inside = shapely.contains_xy(face, path[:, 0], path[:, 1])
    if kind == "surface" and not inside.all() or inside.sum() < 8:
        return None
    first = int(np.argmax(inside))
    last = first + int(np.argmin(np.append(inside[first:], False)))
    path, width = path[first:last], width[first:last]
    keep = width > 0.2
    return solid.Check(path[keep], width[keep], kind) if keep.sum() >= 8 else None


def photographed(picture, built, mm_per_px, rng) -> Made:
    painted = np.clip(picture.wood, 0, 1)
    linear = np.where(painted <= 0.04045, painted / 12.92, ((painted + 0.055) / 1.055) ** 2.4).astype(np.float32)
    h, w = linear.shape[:2]
    mm = picture.size_mm[0] / w
    ground = rng.uniform(0.02, 0.6, 3).astype(np.float32) * (1 + 0.3 * noise.field((h, w), (12, 12), rng)[..., None]).clip(0.3, 2)
    bark = np.array(wood.LOOKS["elm"].bark_cut, np.float32) / 255 * 0.5
    cover = [np.zeros((h, w), np.uint8) for _ in range(2)]
    for mask, shape in zip(cover, (built.bark, built.wood), strict=True):
        ring = shapely.get_coordinates(shape.exterior)
        px = (ring - picture.origin_mm) / [mm, -mm] - 0.5
        cv2.fillPoly(mask, [np.round(px * 64).astype(np.int32)], 255, lineType=cv2.LINE_AA, shift=6)
    for mask, paint in ((cover[0], bark), (cover[1], None)):
        share = mask[..., None].astype(np.float32) / 255
        ground = ground + share * ((linear if paint is None else paint) - ground)
    lit = ground * _light((h, w), mm, rng)[..., None]
    p = mm_per_px or float(np.exp(rng.uniform(np.log(0.45), np.log(1.35))))
    stretch = rng.uniform(1.0, 1.25) if rng.random() < 0.5 else 1.0
    turn = rng.normal(0, 0.1) + (np.pi / 2 if rng.random() < 0.2 else 0)
    # Photo px -> picture px: turned, one way coarser (the far side of an oblique photo).
    c, s = np.cos(turn), np.sin(turn)
    onto = np.array([[c, -s], [s, c]]) @ np.diag([p / mm, p * stretch / mm])
    middle = np.array([w, h]) / 2
    size = np.ceil(np.abs(np.linalg.inv(onto) @ np.array([[w, w], [h, -h]])).max(1)).astype(int) + 20
    shift = middle - onto @ (size / 2)
    blur = rng.uniform(0.45, 1.1)
    soft = cv2.GaussianBlur(lit, (0, 0), sigmaX=blur * p / mm, sigmaY=blur * p * stretch / mm)
    photo = cv2.warpAffine(soft, np.column_stack([onto, shift]), tuple(map(int, size)),
                           flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    photo = _developed(photo, rng)
    # Back to a flat view, y up, at the resolution that the pipeline would take.
    fine = max(0.4, 0.9 * p)
    wide, high = int(w * mm / fine), int(h * mm / fine)
    back = np.linalg.inv(np.vstack([np.column_stack([onto, shift]), [0, 0, 1]]))[:2]
    to_picture = np.array([[fine / mm, 0, 0], [0, fine / mm, 0], [0, 0, 1.0]])
    rgb = cv2.warpAffine(photo, back @ to_picture, (wide, high), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    origin = np.array([picture.origin_mm[0] + mm / 2, picture.origin_mm[1] - mm / 2])
    view = FlatView(rgb, np.ones((high, wide), bool), fine, origin, (), (), np.array([0.0, 0, 2000]))
    true = shapely.get_coordinates(built.wood.exterior)[:-1]
    off = built.wood.buffer(rng.normal(0, 1.2)).exterior.simplify(0.3)
    outline = shapely.get_coordinates(off)[:-1] + rng.normal(0, 0.4, 2)
    return Made(view, outline, true, (), slab_frame(outline), built.checks)


def _light(shape, mm, rng) -> np.ndarray:
    """Uneven light, hard shadows of poles and roofs, dapple, gloss."""
    h, w = shape
    x, y = np.arange(w, dtype=np.float32)[None, :] * mm / w, np.arange(h, dtype=np.float32)[:, None] * mm / w
    light = 1 + rng.uniform(-0.5, 0.5) * x / mm + rng.uniform(-0.3, 0.3) * y / mm + 0 * x * y
    if rng.random() < 0.4:
        for _ in range(rng.integers(1, 4)):
            turn, at = rng.uniform(0, np.pi), np.array([rng.uniform(0, w), rng.uniform(0, h)]) * mm
            across = (x / mm * w * mm - at[0]) * np.cos(turn) + (y / mm * w * mm - at[1]) * np.sin(turn)
            half = rng.choice([rng.uniform(3, 60), 1e4])
            edge = rng.uniform(0.5, 12)
            inside = noise.smoothstep(half - np.abs(across - (half if half > 1e3 else 0)), -edge, edge)
            light = light * (1 - rng.uniform(0.25, 0.7) * inside)
    if rng.random() < 0.15:
        leaves = noise.field(shape, (60 / mm, 60 / mm), rng)
        light = light * (1 - rng.uniform(0.2, 0.6) * noise.smoothstep(leaves, 0, rng.uniform(0.1, 0.6)))
    light = light * rng.uniform(0.4, 1.3)
    if rng.random() < 0.25:
        gloss = noise.smoothstep(noise.field(shape, (80 / mm, 150 / mm), rng) + 0.3 * noise.field(shape, (3 / mm, 20 / mm), rng), 0.5, 1.6)
        light = light + rng.uniform(0.1, 0.6) * gloss
    return light.astype(np.float32).clip(0.05, 3)


def _developed(photo, rng) -> np.ndarray:
    """(h, w, 3) uint8 sRGB after sensor, tone, sharpening and JPEG."""
    signal = photo * rng.uniform(0.6, 1.3)
    signal = signal + rng.standard_normal(signal.shape, np.float32) * rng.uniform(0.02, 0.3) * np.sqrt(np.maximum(signal, 0) * 0.02 + 3e-5)
    signal = np.clip(signal, 0, None)
    signal = np.where(signal < 0.7, signal, 0.7 + 0.3 * np.tanh((signal - 0.7) / 0.3))
    coded = np.where(signal <= 0.0031308, 12.92 * signal, 1.055 * np.maximum(signal, 1e-6) ** (1 / 2.4) - 0.055)
    coded = np.clip(np.rint(coded * 255), 0, 255).astype(np.uint8)
    strong = rng.uniform(0, 0.6)
    coded = cv2.addWeighted(coded, 1 + strong, cv2.GaussianBlur(coded, (0, 0), 1.1), -strong, 0)
    _, file = cv2.imencode(".jpg", coded, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
    return cv2.imdecode(file, cv2.IMREAD_COLOR)


def sample(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """What training takes: (3, h, w) uint8 picture (128 is 0) and (h / 2, w / 2) uint8 label; h and w even."""
    made = make(seed)
    board = lay_board(made.view, made.outline, made.holes, made.frame)
    picture = picture_of(board)
    h, w = (side // 2 * 2 for side in picture.shape[1:])
    picture = np.clip(np.rint(picture[:, :h, :w] * 127 + 128), 0, 255).astype(np.uint8)
    return picture, label(made, board, (h // 2, w // 2))


def label(made: Made, board, shape) -> np.ndarray:
    """(h, w) uint8 on the network's output raster."""
    out = np.full(shape, NO, np.uint8)
    columns, rows = np.arange(shape[1]), np.arange(shape[0])[:, None]
    # Output cell (r, c) covers input pixels 2r, 2r + 1: its middle lies at 2 c + 0.5 of the picture.
    first = board.corner_mm + np.array([-0.5, 0.5]) * board.mm_per_px
    x = first[0] + (2 * columns + 1) * ALONG_MM
    y = first[1] - (2 * rows + 1) * ACROSS_MM
    for check in made.checks:
        path = made.frame.to_slab(check.path)
        order = np.argsort(path[:, 0])
        path, width = path[order], check.width[order]
        inside = (x >= path[0, 0] - 3) & (x <= path[-1, 0] + 3)
        middle, wide = np.interp(x, path[:, 0], path[:, 1]), np.interp(x, path[:, 0], width)
        away = np.abs(y - middle[None, :])
        steep = np.sqrt(1 + np.gradient(middle, x) ** 2)[None, :]
        reach = np.maximum(wide / 2, 0.7)[None, :] * steep
        yes = inside & (x >= path[0, 0]) & (x <= path[-1, 0]) & (wide >= COUNTED_MM)
        out[(away < reach + 1.3) & inside & (out != YES)] = EITHER
        out[(away < reach) & yes] = YES
    return out
