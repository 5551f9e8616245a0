"""From what is wanted to a scene that works: slab in frame, cards in view, none on the edge, none hidden."""

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import MultiPoint, Polygon, box

from grainlog.scale import card as scale_card

from . import lay, optics, solid
from .scene import SOFT_GROUNDS, Brief, Camera, Card, Given, Lie, Scene, Slab, Thing, Wood

#: Thickness of the paper: a card's print lies this far above what the card lies on.
PAPER_MM = 0.3
CHECK_WIDTH_PX = 2016


class DoesNotFit(ValueError):
    """No room for what was asked; take another seed or a shorter slab."""


def compose(brief: Brief, sawn: tuple[Slab, Wood] | None = None) -> Scene:
    """The scene for `brief`; the same brief gives the same scene. `sawn` lays that slab there instead. Raises DoesNotFit."""
    rng = np.random.default_rng(brief.seed)
    slab = _slab(brief, rng)
    wood = Wood(
        brief.species,
        brief.wet,
        int(rng.integers(1, 5)),
        float(rng.uniform(0, 1)) * (rng.random() < 0.7),
        int(rng.integers(1, 6)),
        int(rng.integers(0, 6)),
        int(rng.integers(1 << 30)),
    )
    slab, wood = sawn or (slab, wood)
    lie = _lie(brief, rng)
    built = solid.build(slab, wood)
    camera = _camera(brief, slab, lie, built, rng)
    seen = optics.view(camera, CHECK_WIDTH_PX)
    shape = Footprint(built, slab, lie, seen)
    cards = _cards(brief, slab, lie, shape, seen, rng)
    clutter = _clutter(brief, shape, cards, lie, slab, seen, rng)
    sun = (float(rng.uniform(0, 2 * np.pi)), float(np.radians(rng.uniform(32, 55))))
    given = Given(slab.thickness_mm, lie.lift_mm, "slab" if brief.slab_cards and not brief.floor_cards else "floor")
    if not brief.perfect:
        stated = max(0.0, lie.lift_mm + float(rng.choice([-3, -2, 2, 3])))
        given = replace(given, thickness_mm=slab.thickness_mm + float(rng.choice([-1, 1])), lift_mm=stated)
    day = f"2026:0{rng.integers(4, 10)}:{rng.integers(10, 28)}"
    taken = f"{day} {rng.integers(9, 18):02d}:{rng.integers(60):02d}:{rng.integers(60):02d}"
    return Scene(
        brief.name,
        brief.seed,
        brief.perfect,
        slab,
        wood,
        lie,
        cards,
        camera,
        brief.ground,
        brief.light,
        sun,
        brief.shadow,
        clutter,
        given,
        taken,
        brief.orientation,
        brief.exif,
    )


class Footprint:
    """Where the slab is, on the ground (mm) and in the photo (px at CHECK_WIDTH_PX), for keeping other things away."""

    def __init__(self, built: solid.Solid, slab: Slab, lie: Lie, seen: optics.View):
        rings = [skirt.points for skirt in built.skirts if skirt.kind[0] != solid.VOID]
        world = [lay.slab_to_world(row[::4], lie, slab) for points in rings for row in points]
        self.ground = shapely.union_all([Polygon(ring[:, :2]).buffer(0) for ring in world])
        self.photo = shapely.union_all([Polygon(seen.project(ring)).buffer(2) for ring in world])
        self.wood = built.wood
        self.taken_ground = [self.ground.buffer(25)]
        self.taken_photo = [self.photo.buffer(8)]
        for x, y, turn, size in stickers(slab, lie, built):
            self.taken_ground.append(_rectangle(x, y, turn, size[0] + 30, size[1] + 30))


def stickers(slab: Slab, lie: Lie, built: solid.Solid):
    """The battens under a lifted slab: (x, y, turn, (across, along, height)) in the world, mm."""
    if lie.lift_mm <= 0:
        return []
    rng = np.random.default_rng(slab.seed + 7)
    made = []
    for share in (-0.38, 0.0, 0.38):
        x = share * slab.length_mm + rng.normal(0, 25)
        across = shapely.intersection(built.wood, box(x - 20, -3000, x + 20, 3000)).bounds
        centre = lay.slab_to_world(np.array([[x, (across[1] + across[3]) / 2 + rng.normal(0, 15)]]), lie, slab)[0]
        size = (float(rng.uniform(28, 45)), across[3] - across[1] + float(rng.uniform(60, 190)), lie.lift_mm)
        made.append((centre[0], centre[1], lie.turn_rad + rng.normal(0, 0.03), size))
    return made


def _slab(brief: Brief, rng) -> Slab:
    lean = rng.uniform(14, 48) * brief.thickness_mm / 65
    return Slab(
        form=brief.form,
        length_mm=brief.length_mm,
        width_mm=brief.width_mm,
        thickness_mm=brief.thickness_mm,
        taper=float(rng.uniform(0.02, 0.22)),
        wobble_mm=float(rng.uniform(10, 26)),
        flank_mm=float(lean if brief.narrow_side_up else -0.8 * lean),
        bark_mm=float(rng.uniform(6, 16)),
        bark_missing=float(rng.choice([0.0, 0.2, 0.45, 0.75], p=[0.4, 0.3, 0.2, 0.1])),
        end_skew_rad=tuple(float(a) for a in np.radians(rng.normal(0, 2.2, 2).clip(-5, 5))),
        void=brief.void,
        seed=int(rng.integers(1 << 30)),
    )


def _lie(brief: Brief, rng) -> Lie:
    turn = float(np.radians(rng.uniform(-9, 9)))
    tilt, cup, lift = (0.0, 0.0), 0.0, brief.lift_mm
    if not brief.perfect:
        tilt = tuple(float(a) for a in np.radians(rng.normal(0, 0.3, 2).clip(-0.6, 0.6)))
        cup = float(rng.choice([-1, 1]) * rng.uniform(1, 4))
    return Lie(turn, float(rng.uniform(-60, 60)), float(rng.uniform(-40, 40)), lift, tilt, cup)


def _camera(brief: Brief, slab: Slab, lie: Lie, built: solid.Solid, rng) -> Camera:
    """Step back (up) until the whole slab is in the frame with a margin."""
    ring = np.asarray(built.bark.exterior.coords)
    points = np.vstack([lay.slab_to_world(ring, lie, slab), lay.slab_to_world(ring, lie, slab) * [1, 1, 0]])
    camera = Camera(
        height_mm=1800.0,
        oblique_rad=float(np.radians(brief.oblique_deg)),
        roll_rad=float(np.radians(rng.normal(0, 1.5))),
        aim_x_mm=lie.x_mm + float(rng.uniform(-80, 80)),
        aim_y_mm=lie.y_mm + float(rng.uniform(-60, 30)),
        focal_35mm=brief.focal_35mm,
        k1=float(rng.uniform(-0.03, 0.03)),
        k2=float(rng.uniform(-0.006, 0.006)),
        centre_shift=tuple(float(v) for v in rng.uniform(-0.007, 0.007, 2)),
    )
    spare = rng.uniform(0.05, 0.09)
    for height in np.arange(1800, 3401, 25.0):
        moved = replace(camera, height_mm=float(height))
        if _in_frame(optics.view(moved, CHECK_WIDTH_PX), points, spare):
            return moved
    raise DoesNotFit(f"{brief.name}: a slab of {brief.length_mm} mm does not fit the frame from 3.4 m")


def _in_frame(seen: optics.View, points: np.ndarray, spare: float) -> bool:
    px = seen.project(points)
    edge = spare * seen.size_px[0]
    return bool((px > edge).all() and (px < np.array(seen.size_px) - 1 - edge).all())


def _cards(brief: Brief, slab: Slab, lie: Lie, shape: Footprint, seen: optics.View, rng) -> tuple[Card, ...]:
    corners = scale_card.outline()
    wrong = (1.0, 1.0)
    if not brief.perfect:
        wrong = [(1.003, 1.0), (0.997, 1.0), (1.0, 1.003), (1.0, 0.997)][rng.integers(4)]
    soft = brief.ground in SOFT_GROUNDS
    made, on_slab = [], []
    ends = rng.permutation([-1, 1])
    for index, number in enumerate(brief.slab_cards):
        for attempt in range(4000):
            # Near its end of the slab; where nothing fits there, near the middle.
            nearest = 0.4 if attempt > 2500 else 0.2
            side = ends[index % 2] if attempt < 3000 else 0.2 * ends[index % 2]
            x, y = side * rng.uniform(nearest, 0.43) * slab.length_mm, rng.uniform(-0.3, 0.3) * slab.width_mm
            turn = rng.normal(0, 0.2) + rng.integers(4) * np.pi / 2
            outline = _turned(corners, x, y, turn)
            if shape.wood.contains(outline.buffer(12)) and all(outline.disjoint(other) for other in on_slab):
                on_slab.append(outline.buffer(20))
                break
        else:
            raise DoesNotFit(f"{brief.name}: no room for card {number} on the slab")
        made.append(_lain(number, "slab", x, y, turn, brief, False, wrong, rng, _cup_rest(outline, lie, slab)))
    quarters = [(-1, -1), (1, 1), (1, -1), (-1, 1)]
    start = rng.integers(2)
    for index, number in enumerate(brief.floor_cards):
        want = quarters[(index + 2 * start) % 4]
        for attempt in range(6000):
            # In its own quarter round the slab; where nothing fits there, anywhere.
            own = attempt < 3000
            along = want[0] * rng.uniform(0.15, 0.62) if own else rng.uniform(-0.62, 0.62)
            side = want[1] if own else rng.choice([-1, 1])
            x = lie.x_mm + along * slab.length_mm
            y = lie.y_mm + side * rng.uniform(0.3, 1.2) * max(slab.width_mm, 500)
            turn = rng.normal(0, 0.35) + rng.integers(4) * np.pi / 2
            card = Card(number, "floor", x, y, turn, PAPER_MM)
            world = lay.card_to_world(card, corners * 1.04, lie, slab)
            outline, photo = Polygon(world[:, :2]), Polygon(seen.project(world))
            if (
                _in_frame(seen, world, 0.012)
                and not any(outline.intersects(o) for o in shape.taken_ground)
                and not any(photo.intersects(o) for o in shape.taken_photo)
            ):
                break
        else:
            raise DoesNotFit(f"{brief.name}: no room for card {number} on the floor")
        shape.taken_ground.append(outline.buffer(15))
        shape.taken_photo.append(photo.buffer(4))
        made.append(_lain(number, "floor", x, y, turn, brief, soft, wrong, rng, 0.0))
    return tuple(made)


def _lain(number, on, x, y, turn, brief, soft, wrong, rng, rest_mm) -> Card:
    """The card as it really lies: flat in a perfect world, else tilted, bent and lifted so that nothing sinks in."""
    if brief.perfect:
        return Card(number, on, float(x), float(y), float(turn), PAPER_MM + rest_mm)
    spread = np.radians(1.5 if soft else 0.3) / np.sqrt(2)
    tilt = tuple(float(a) for a in rng.normal(0, spread, 2).clip(-3 * spread, 3 * spread))
    curl = float(rng.uniform(0.5, 4)) if rng.random() < 0.4 else 0.0
    gap = float(rng.uniform(0, 3.0 if soft else 0.5))
    trial = Card(number, on, float(x), float(y), float(turn), 0.0, tilt, curl, str(rng.choice(["x", "y"])), wrong)
    grid = np.array([[a, b] for a in (-100, 0, 100) for b in (-146, -73, 0, 62, 124)], float)
    lowest = float(lay.card_surface(trial, grid)[:, 2].min())
    return replace(trial, height_mm=PAPER_MM + gap + rest_mm - lowest)


def _cup_rest(outline: Polygon, lie: Lie, slab: Slab) -> float:
    """Height of the highest point of the cupped face under a card."""
    grid = np.asarray(outline.exterior.coords)
    return float(max(0.0, lay.cup(np.vstack([grid, grid.mean(axis=0)[None]]), lie, slab).max()))


def _clutter(brief: Brief, shape: Footprint, cards, lie, slab, seen: optics.View, rng) -> tuple[Thing, ...]:
    """Put each thing somewhere in the frame, or half out of it, clear of slab and cards in the photo."""
    sizes = {
        "batten": (1100, 45, 24),
        "boots": (105, 290, 120),
        "bar": (520, 85, 8),
        "block": (260, 190, 140),
        "slab": (1700, 420, 60),
        "bucket": (280, 280, 260),
    }
    made = []
    for kind in brief.clutter:
        size = np.array(sizes[kind], float) * rng.uniform(0.9, 1.1)
        for _ in range(3000):
            corner = rng.uniform(-0.05, 1.05, 2) * seen.size_px
            ray = seen.rays(corner[None])[0]
            at = seen.position - ray * seen.position[2] / ray[2]
            turn = rng.uniform(0, np.pi) if kind != "slab" else lie.turn_rad + rng.normal(0, 0.12)
            base = _rectangle(at[0], at[1], turn, size[0] * (2.4 if kind == "boots" else 1), size[1])
            ring = np.asarray(base.exterior.coords)[:, :2]
            world = np.vstack([np.column_stack([ring, np.full(len(ring), z)]) for z in (0.0, size[2])])
            photo = MultiPoint(seen.project(world)).convex_hull
            if any(base.buffer(20).intersects(o) for o in shape.taken_ground) or any(
                photo.buffer(6).intersects(o) for o in shape.taken_photo
            ):
                continue
            visible = photo.intersection(box(0, 0, *seen.size_px)).area / photo.area
            if visible < 0.25:
                continue
            made.append(
                Thing(
                    kind,
                    float(at[0]),
                    float(at[1]),
                    float(turn),
                    tuple(float(s) for s in size),
                    int(rng.integers(1 << 30)),
                )
            )
            shape.taken_ground.append(base.buffer(20))
            shape.taken_photo.append(photo)
            break
    return tuple(made)


def _rectangle(x, y, turn, width, height) -> Polygon:
    return _turned(np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2, x, y, turn)


def _turned(points, x, y, turn) -> Polygon:
    turn_matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return Polygon(np.asarray(points) @ turn_matrix.T + [x, y])
