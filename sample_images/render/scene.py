"""What a rendered photo shows, as plain numbers: no path tracer, no arrays.

World frame: millimetres, x to the right, y away from the photographer, z up, the ground at z = 0. Slab frame: x along
the slab, y across, z out of the upper face, origin in the middle of the slab on the upper face.
"""

from dataclasses import dataclass

SPECIES = ("walnut", "white oak", "sugar maple", "cherry", "elm", "ash")
GROUNDS = ("concrete", "gravel", "grass", "sawdust", "plank", "tarpaulin")
SOFT_GROUNDS = ("gravel", "grass", "sawdust", "tarpaulin")
LIGHTS = ("overcast", "sun", "shed")
FORMS = ("plain", "flare", "crotch", "hook")


@dataclass(frozen=True)
class Brief:
    """What is wanted of a photo; everything that is not said here is drawn from the seed.

    `lift_mm` is the height of the stickers under the slab, 0 on the ground. `shadow` asks for the hard shadow of
    something outside the frame across the slab (sun only). `orientation` is the EXIF value, 1 or 6; `exif` False
    leaves all metadata out.
    """

    name: str
    seed: int
    perfect: bool
    species: str
    ground: str
    light: str
    floor_cards: tuple[int, ...]
    slab_cards: tuple[int, ...]
    form: str
    narrow_side_up: bool
    length_mm: float
    width_mm: float
    thickness_mm: float
    lift_mm: float
    oblique_deg: float
    focal_35mm: float
    wet: bool = False
    void: bool = False
    shadow: bool = False
    clutter: tuple[str, ...] = ()
    orientation: int = 1
    exif: bool = True


@dataclass(frozen=True)
class Slab:
    """The solid: a sawn piece of a log with two live edges and two sawn ends.

    `flank_mm` is how far the live edge leans out on its way down (negative: it recedes under the face).
    `bark_mm` is the mean thickness of the bark, `bark_missing` the share of the edge that has lost it.
    """

    form: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    taper: float
    wobble_mm: float
    flank_mm: float
    bark_mm: float
    bark_missing: float
    end_skew_rad: tuple[float, float]
    void: bool
    seed: int


@dataclass(frozen=True)
class Wood:
    """The upper face as wood: species, how wet, and what it carries."""

    species: str
    wet: bool
    knots: int
    streaks: float
    end_checks: int
    surface_checks: int
    seed: int


@dataclass(frozen=True)
class Lie:
    """How the slab lies: turned by `turn_rad` about the vertical, its middle over (x, y), face tilted and cupped.

    `cup_mm` is the rise of the long edges over the middle of the face at the greatest half width.
    """

    turn_rad: float
    x_mm: float
    y_mm: float
    lift_mm: float
    tilt_rad: tuple[float, float]
    cup_mm: float


@dataclass(frozen=True)
class Card:
    """One scale card: where it lies and how it departs from a flat, true print.

    `x_mm, y_mm, turn_rad` place the pattern's centre in the world for a card on the floor and in the slab frame for a
    card on the slab; `height_mm` is that of the pattern's centre above the same plane. `curl_mm` is the rise of the
    paper's short edges (`curl_along` "y") or long edges ("x") above its middle, bent as part of a cylinder.
    """

    id: int
    on: str
    x_mm: float
    y_mm: float
    turn_rad: float
    height_mm: float
    tilt_rad: tuple[float, float] = (0.0, 0.0)
    curl_mm: float = 0.0
    curl_along: str = "y"
    print_scale: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class Camera:
    """Where the photographer holds the camera, and its lens.

    The optical axis meets the ground at (aim_x, aim_y), `oblique_rad` away from straight down; `centre_shift` is the
    offset of the principal point as a share of the photo's width; k1 and k2 are radial distortion as OpenCV has it.
    """

    height_mm: float
    oblique_rad: float
    roll_rad: float
    aim_x_mm: float
    aim_y_mm: float
    focal_35mm: float
    k1: float
    k2: float
    centre_shift: tuple[float, float]


@dataclass(frozen=True)
class Thing:
    """One piece of clutter: a box or a slab-like blank standing about, world frame, mm."""

    kind: str
    x_mm: float
    y_mm: float
    turn_rad: float
    size_mm: tuple[float, float, float]
    seed: int


@dataclass(frozen=True)
class Given:
    """What the person tells the tool; in an imperfect world it's a little wrong."""

    thickness_mm: float
    lift_mm: float
    cards_on: str


@dataclass(frozen=True)
class Scene:
    """Everything that one photo shows."""

    name: str
    seed: int
    perfect: bool
    slab: Slab
    wood: Wood
    lie: Lie
    cards: tuple[Card, ...]
    camera: Camera
    ground: str
    light: str
    sun_rad: tuple[float, float]
    shadow: bool
    clutter: tuple[Thing, ...]
    given: Given
    taken: str
    orientation: int = 1
    exif: bool = True
