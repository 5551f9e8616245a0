"""Scale from a known rectangle or two points against simulated photos, all errors drawn from the stated priors."""

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from grainlog.errors import GrainlogError, WrongUse
from grainlog.photo import read_photo
from grainlog.scale.at_hand import (
    AT_HAND,
    LEANS,
    HandPlane,
    known_rectangle,
    solve_at_hand,
    two_points,
)
from grainlog.scale.errors import ScaleError
from grainlog.scale.paper import find_sheet
from grainlog.scale.plane import FaceViewer
from grainlog.scale.priors import HARD, Lens
from grainlog.scale.rectangle import SHEETS, read_rectangle
from tests.scale.simulate import FULL_FRAME_DIAGONAL, _look, _outline, _project
from tests.scale.synthetic import photo_of_cards, placed_flat
from tests.scale.test_solve import measures

SIZE = (4032, 3024)


@dataclass(frozen=True)
class Scene:
    """Corners of the reference in the photo, the outline in the photo and in truth, the lens by the metadata."""

    reference_px: np.ndarray
    outline_px: np.ndarray
    outline_mm: np.ndarray
    lens: Lens


def scene(seed, points_mm, lean, noise_px, paper_u=0.0, flat=True, imperfect=1.0):
    """A slab with points on its face. lean: (rng) -> tilt of the camera (rad) about each axis from straight down, or
    None for one that looks across the slab from up to 35 degrees."""
    rng = np.random.default_rng(seed)
    length, width = rng.uniform(1500, 2600), rng.uniform(350, 700)
    outline = _outline(rng, length / 2, width / 2)
    focal_35mm = rng.uniform(24, 28)
    focal = focal_35mm * (1 + rng.normal(0, 0.04) * imperfect) / FULL_FRAME_DIAGONAL * np.hypot(*SIZE)
    centre = (np.array(SIZE) - 1) / 2 + rng.normal(0, 40, 2) * imperfect
    k1, k2 = rng.normal(0, 0.03) * imperfect, rng.normal(0, 0.02) * imperfect
    if lean is None:
        rotation, move = _look(rng, max(length / 1.1, rng.uniform(1800, 2600)), np.radians(rng.uniform(0, 35)))
    else:
        tilt = lean(rng)
        turn = cv2.Rodrigues(np.array([*tilt, 0.0]))[0]
        spin = cv2.Rodrigues(np.array([0, 0, rng.uniform(-0.1, 0.1)]))[0]
        rotation = turn @ np.diag([1.0, -1, -1]) @ spin
        # The person aims at the slab's middle whichever way the camera leans.
        move = np.array([*rng.uniform(-60, 60, 2), max(length / 1.1, rng.uniform(1800, 2600))])
    stretch = 1 + rng.normal(0, paper_u, 2) * imperfect
    local = np.column_stack([points_mm * stretch, np.zeros(len(points_mm))])
    if not flat:
        local = curled(local, rng.normal(0, HARD.curl, 2) * imperfect)
    leaning = cv2.Rodrigues(np.array([*(rng.normal(0, HARD.tilt, 2) * imperfect), 0.0]))[0]
    spin = cv2.Rodrigues(np.array([0, 0, rng.uniform(-np.pi, np.pi) if len(points_mm) == 4 else 0.0]))[0]
    place = [rng.uniform(-length / 4, length / 4), rng.uniform(-60, 60), 0.1 + rng.normal(0, HARD.height) * imperfect]
    if len(points_mm) == 2:  # marks on the face itself
        place[2] = 0.0
    world = local @ (leaning @ spin).T + place
    seen = _project(world, rotation, move, focal, centre, k1, k2)
    seen = seen + rng.normal(0, noise_px, seen.shape) * max(imperfect, 0.02)
    flat_outline = np.column_stack([outline, np.zeros(len(outline))])
    outline_px = _project(flat_outline, rotation, move, focal, centre, k1, k2)
    return Scene(seen, outline_px, outline, Lens.from_metadata(focal_35mm))


def curled(local, sag):
    """The paper as an arc of a circle along each direction; `sag` is its rise over half a scale card's pattern, mm."""
    out = local.copy()
    for axis, half in enumerate((88.0, 110.0)):
        bend = 2 * sag[axis] / half**2 or 1e-12
        out[:, axis] = np.sin(bend * local[:, axis]) / bend
        out[:, 2] += (1 - np.cos(bend * local[:, axis])) / bend
    return out


def corners_of(width_mm, height_mm):
    return np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * [width_mm / 2, height_mm / 2]


def paper_scene(seed, name="a4", noise_px=1.5, imperfect=1.0):
    what = SHEETS[name]
    return scene(
        seed, corners_of(what.width_mm, what.height_mm), None, noise_px, 0.002, flat=False, imperfect=imperfect
    )


def judged(made, solution):
    plane = HandPlane(solution)
    u, budget = plane.spread(lambda other: measures(other.to_mm(made.outline_px)))
    assert np.allclose(u**2, sum(part**2 for part in budget.values()))
    return measures(plane.to_mm(made.outline_px)), measures(made.outline_mm), u, budget


def scored(draws, reference, make):
    """(3,) RMS of (value - truth) / u for length, width, area."""
    found = []
    for seed in range(draws):
        made = make(seed)
        got, true, u, _ = judged(made, solve_at_hand(SIZE, made.lens, reference(made, seed)))
        found.append((got - true) / u)
    return np.sqrt(np.mean(np.square(found), 0))


@pytest.mark.parametrize(("name", "noise_px"), [("a4", 1.5), ("letter", 0.5)])
def test_a_sheet_knows_how_unsure_it_is(name, noise_px):
    """Corners by hand, in any order, and as found: 40 photos each, all errors drawn from the stated priors."""

    def reference(made, seed):
        shuffled = made.reference_px[np.random.default_rng(seed).permutation(4)]
        return known_rectangle(shuffled, SHEETS[name], noise_px)

    rms = scored(40, reference, lambda seed: paper_scene(seed, name, noise_px))
    assert (rms > 0.7).all() and (rms < 1.3).all(), rms


def marks(seed, distance_mm, imperfect=1.0, lean=None):
    """A slab with two marks on its face, by a camera that leans as is believed of it."""
    ends = np.array([[-distance_mm / 2, 0.0], [distance_mm / 2, 0.0]])
    return scene(seed, ends, lean or (lambda rng: rng.normal(0, LEANS, 2)), 1.5, imperfect=imperfect)


def test_two_points_know_how_unsure_they_are():
    """40 photos whose camera leans by 10 degrees (standard deviation, each way). One lean of 25 degrees in 40 weighs
    as much as all others together, so the RMS itself is only good to 0.3."""

    def reference(made, seed):
        return two_points(made.reference_px, 1200.0 + np.random.default_rng(seed + 999).normal(0, 1.0), 1.0)

    rms = scored(40, reference, lambda seed: marks(seed, 1200.0))
    assert (rms > 0.6).all() and (rms < 1.4).all(), rms


def test_perfect_corners_of_a_sheet_give_the_slab():
    off = []
    for seed in range(8):
        made = paper_scene(seed, imperfect=0.0)
        got, true, u, _ = judged(
            made, solve_at_hand(SIZE, made.lens, known_rectangle(made.reference_px, SHEETS["a4"], 0.5))
        )
        assert (np.abs(got - true) < 2 * u).all()
        off.append(np.abs(got / true - 1))
    assert np.median(off, 0)[0] < 0.004 and np.median(off, 0)[1] < 0.002


def test_two_points_straight_from_above_give_the_slab_and_say_what_a_lean_would_do():
    for seed in range(4):
        made = marks(seed, 1000.0, 0.0, lean=lambda rng: np.zeros(2))
        got, true, u, budget = judged(made, solve_at_hand(SIZE, made.lens, two_points(made.reference_px, 1000.0)))
        assert got == pytest.approx(true, rel=0.003)
        assert (u / true > 0.02).all() and (budget["camera lean"] > 0.8 * u).all()


def test_a_sheet_serves_everything_that_cards_serve():
    made = paper_scene(1)
    plane = HandPlane(solve_at_hand(SIZE, made.lens, known_rectangle(made.reference_px, SHEETS["a4"]), 63.5))
    assert plane.thickness_mm == pytest.approx(63.5)
    outline = plane.card_outlines_px()
    assert list(outline) == [AT_HAND] and outline[AT_HAND].shape == (32, 2)
    corners = outline[AT_HAND][::8]
    nearest = np.linalg.norm(corners[:, None] - made.reference_px, axis=2).min(1)
    assert nearest.max() < 6
    sides = np.linalg.norm(np.diff(plane.to_mm(corners), axis=0), axis=1)
    assert np.sort(sides)[[0, -1]] == pytest.approx([210, 297], rel=0.01)
    view = FaceViewer(plane, np.full((SIZE[1], SIZE[0], 3), 90, np.uint8)).flat_view(8.0)
    assert view.cards_on_face == (True,) and view.seen.any()
    assert plane.solution.problem.setup.on_slab(AT_HAND)
    assert 1000 < plane.camera_height_mm < 4000 and plane.mm_per_px(np.zeros(2)) > 0.3
    assert HandPlane(solve_at_hand(SIZE, made.lens, two_points(made.reference_px[:2], 210.0))).card_outlines_px() == {}


def test_a_board_is_as_high_as_it_is_thick():
    """Its upper corners are nearer to the camera than the face: taken as lying in it, the slab comes out too small."""
    made = paper_scene(3, imperfect=0.0)
    width, height = SHEETS["a4"].width_mm, SHEETS["a4"].height_mm
    heights, lengths = [], []
    for above in (0.0, 19.0):
        board = replace(read_rectangle(f"{width}x{height}mm"), above_mm=above)
        plane = HandPlane(solve_at_hand(SIZE, made.lens, known_rectangle(made.reference_px, board, 0.5)))
        heights.append(plane.camera_mm[2])
        lengths.append(measures(plane.to_mm(made.outline_px))[0])
    assert heights[1] - heights[0] == pytest.approx(19.0, abs=1.0)
    assert lengths[1] / lengths[0] == pytest.approx(heights[1] / heights[0], rel=2e-3)


def test_a_wrong_size_is_refused():
    made = paper_scene(2, imperfect=0.0)
    with pytest.raises(ScaleError, match="do not fit"):
        solve_at_hand(SIZE, made.lens, known_rectangle(made.reference_px, read_rectangle("100x900mm")))


def test_sides_that_are_nearly_alike_are_asked_for():
    made = scene(1, corners_of(310, 300), lambda rng: np.radians(rng.uniform(-20, 20, 2)), 1.5)
    what = read_rectangle("310x300mm")
    with pytest.raises(ScaleError, match="which is which"):
        solve_at_hand(SIZE, made.lens, known_rectangle(made.reference_px, what))
    for corners in (made.reference_px, made.reference_px[[1, 0, 3, 2]], made.reference_px[[2, 3, 0, 1]]):
        said = known_rectangle(corners, what, ordered=True)
        got, true, u, _ = judged(made, solve_at_hand(SIZE, made.lens, said))
        assert (np.abs(got - true) < 3 * u).all()
    square = scene(4, corners_of(300, 300), lambda rng: np.radians([12.0, 8.0]), 0.5, imperfect=0.2)
    got, true, u, _ = judged(
        square, solve_at_hand(SIZE, square.lens, known_rectangle(square.reference_px, read_rectangle("300x300mm")))
    )
    assert (np.abs(got - true) < 3 * u).all()


@pytest.mark.parametrize(
    "corners",
    [
        [[0, 0], [100, 0], [100, 100]],
        [[0, 0], [100, 0], [200, 0], [0, 100]],
        [[0, 0], [100, 0], [100, 100], [100, 100]],
        [[0, 0], [5, 0], [5, 5], [0, 5]],
        [[0, 0], [100, 0], [float("nan"), 100], [0, 100]],
    ],
)
def test_what_is_no_rectangle_is_refused(corners):
    with pytest.raises(WrongUse):
        known_rectangle(np.array(corners), SHEETS["a4"])


def test_corners_across_from_each_other_are_no_side():
    with pytest.raises(WrongUse, match="one side"):
        known_rectangle(np.array([[0, 0], [100, 100], [100, 0], [0, 100]]), SHEETS["a4"], ordered=True)


def test_two_points_that_tell_nothing_are_refused():
    for points, distance in (([[0, 0], [20, 0]], 100.0), ([[0, 0]], 100.0), ([[0, 0], [900, 0]], 0.0)):
        with pytest.raises(WrongUse):
            two_points(np.array(points, float), distance)


@pytest.mark.parametrize(
    ("text", "width", "height", "above"),
    [
        ("a4", 210.0, 297.0, 0.1),
        (" A3 ", 297.0, 420.0, 0.1),
        ("Letter", 215.9, 279.4, 0.1),
        ("600x300mm", 600.0, 300.0, 0.0),
        ("24 x 12 in", 609.6, 304.8, 0.0),
        ("600x300x19mm", 600.0, 300.0, 19.0),
        ("2ft x 12in x 3/4in", 609.6, 304.8, 19.05),
    ],
)
def test_sizes_are_read(text, width, height, above):
    """A4, A3: ISO 216. Letter: ANSI/ASME Y14.1 size A, 8.5 x 11 in."""
    what = read_rectangle(text)
    assert (what.width_mm, what.height_mm, what.above_mm) == pytest.approx((width, height, above))


@pytest.mark.parametrize("text", ["", "a9", "600mm", "600x300", "1x2x3x4mm", "0x300mm", "xmm", "600x-3mm"])
def test_what_is_no_size_is_refused(text):
    with pytest.raises(GrainlogError) as refused:
        read_rectangle(text)
    assert refused.value.exit_code == 2


# Finding the sheet -------------------------------------------------------------------------------------------------


def ground(rng, size, colour, roughness):
    """Rough ground, linear light 0..1, (h, w, 3)."""
    grain = cv2.GaussianBlur(rng.normal(0, 1, (size[1], size[0])).astype(np.float32), (0, 0), 3)
    return np.clip(np.array(colour) * (1 + roughness * grain / grain.std())[..., None], 0.01, 1).astype(np.float32)


def with_quad(light, corners, colour, shade=0.0, curve_px=0.0):
    """Paint a quadrilateral into linear light; `shade` falls off across it, `curve_px` bows its sides."""
    s = 4
    edge = []
    for a, b in zip(corners, np.roll(corners, -1, 0)):
        t = np.linspace(0, 1, 40, endpoint=False)[:, None]
        out = np.array([(b - a)[1], -(b - a)[0]]) / np.linalg.norm(b - a)
        edge.append(a + t * (b - a) + 4 * t * (1 - t) * curve_px * out)
    polygon = np.round(((np.vstack(edge) + 0.5) * s - 0.5) * 256).astype(np.int32)
    mask = np.zeros((light.shape[0] * s, light.shape[1] * s), np.uint8)
    cv2.fillPoly(mask, [polygon], 255, shift=8)
    cover = cv2.resize(mask, light.shape[1::-1], interpolation=cv2.INTER_AREA)[..., None] / 255.0
    fall = 1 - shade * np.linspace(0, 1, light.shape[1])[None, :, None]
    return light * (1 - cover) + np.array(colour) * fall * cover


def as_photo(rng, light, blur=0.8):
    """Blur, noise, sRGB: (h, w, 3) uint8."""
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), blur)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055) * 255
    return np.clip(code + rng.normal(0, 2.5, code.shape) + 0.5, 0, 255).astype(np.uint8)


PHOTO = (1600, 1200)
QUAD = np.array([[640.3, 500.8], [850.6, 480.2], [893.1, 770.9], [668.9, 801.4]])
WHITE, WOOD, PALE = (0.78, 0.76, 0.72), (0.25, 0.16, 0.09), (0.75, 0.60, 0.42)


def spot(rng, turn):
    """The sheet turned and moved to another place of the photo."""
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return (QUAD - QUAD.mean(0)) @ spin.T * rng.uniform(0.6, 1.5) + [rng.uniform(450, 1150), rng.uniform(400, 800)]


@pytest.mark.parametrize("seed", range(8))
def test_a_white_sheet_is_found_to_a_pixel(seed):
    rng = np.random.default_rng(seed)
    corners = spot(rng, rng.uniform(-np.pi, np.pi))
    dim = rng.uniform(0.5, 1.0)
    light = with_quad(ground(rng, PHOTO, WOOD, 0.3), corners, np.array(WHITE), shade=0.15) * dim
    found = find_sheet(as_photo(rng, light))
    assert found is not None
    off = np.linalg.norm(found[:, None] - corners, axis=2).min(1)
    assert off.max() < 0.5, off  # half of what is asked, because half a pixel is what a found corner is believed to be


def test_found_corners_have_no_common_offset():
    offs = []
    for seed in range(20, 26):
        rng = np.random.default_rng(seed)
        corners = spot(rng, rng.uniform(-np.pi, np.pi))
        found = find_sheet(as_photo(rng, with_quad(ground(rng, PHOTO, WOOD, 0.2), corners, WHITE)))
        nearest = np.linalg.norm(found[:, None] - corners, axis=2).argmin(1)
        offs.append(found.mean(0) - corners.mean(0))
        size = cv2.contourArea(found.astype(np.float32)) / cv2.contourArea(corners[nearest].astype(np.float32))
        assert abs(size - 1) < 0.004
    assert np.abs(np.mean(offs, 0)).max() < 0.05


def test_what_is_no_sheet_is_left_alone():
    rng = np.random.default_rng(1)
    rough = ground(rng, PHOTO, WOOD, 0.3)
    assert find_sheet(as_photo(rng, rough)) is None
    pale = with_quad(rough, QUAD, PALE)
    assert find_sheet(as_photo(rng, pale)) is None, "a pale board"
    sky = rough.copy()
    sky[:300] = (0.75, 0.78, 0.85)
    assert find_sheet(as_photo(rng, sky)) is None, "the sky"
    out_of_frame = with_quad(rough, QUAD - [660, 0], WHITE)
    assert find_sheet(as_photo(rng, out_of_frame)) is None, "a sheet that runs out of the photo"
    bowed = with_quad(rough, QUAD, WHITE, curve_px=8.0)
    assert find_sheet(as_photo(rng, bowed)) is None, "a sheet that curls"
    two = with_quad(with_quad(rough, QUAD, WHITE), QUAD + [400, 60], WHITE)
    assert find_sheet(as_photo(rng, two)) is None, "two sheets"
    printed = with_quad(rough, QUAD, WHITE)
    for left in range(0, 200, 40):
        stripe = QUAD.mean(0) + np.array(
            [[-90 + left, -110], [-72 + left, -110], [-72 + left, 110], [-90 + left, 110]]
        )
        printed = with_quad(printed, stripe, (0.03, 0.03, 0.03))
    assert find_sheet(as_photo(rng, printed)) is None, "a printed sheet"


def test_a_scale_card_is_no_sheet():
    cards, _ = photo_of_cards([(0, placed_flat(800, 600, 1.5, 0.4))], PHOTO, ground=60)
    assert find_sheet(cards) is None


def test_a_photo_of_a_slab_with_cards_has_no_sheet():
    photos = sorted((Path(__file__).parents[2] / "sample_images").glob("*.jpg"))
    assert photos
    assert find_sheet(read_photo(photos[0]).pixels) is None
