"""A slab longer than one photo: two to four overlapping photos, solved together, joined, measured as one.

The cards that two photos share tie them in the one least-squares problem; from there the joined picture is measured as
a photo is. What the cards cannot see, that something was moved between the photos, is asked of the wood itself.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from os import PathLike

import numpy as np

from grainlog.errors import WrongUse
from grainlog.notes import Note
from grainlog.photo import Photo, read_photo
from grainlog.scale.detect import CardsSeen, find_cards
from grainlog.scale.errors import ScaleError
from grainlog.scale.mosaic import MosaicPlane
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.plane import FacePlane
from grainlog.scale.solve import Solution, solve
from grainlog.survey.drawn import Drawing, moved
from grainlog.survey.errors import SurveyError
from grainlog.survey.measure import STEPS, require_seen_from_above, survey_of
from grainlog.survey.overlap import agreement_of
from grainlog.survey.plane import view_of
from grainlog.survey.request import Request
from grainlog.survey.survey import Survey

MOST_PHOTOS = 4
#: A card was moved when its corners fit no better than this, mm: those of a card that lay still fit to a twentieth of it.
MOVED_MM = 1.5
UNCHECKED = Note(
    "little-overlap",
    "The photos overlap on so little bare wood that nothing can tell whether slab or cards were moved between them: let them "
    "overlap by a hand's breadth more.",
)


@dataclass(frozen=True, eq=False)
class Tied:
    """Photos of one slab that are solved together, before anything is looked for on their wood.

    photos, seen : in the order in which they were solved, with the cards of each
    viewer : MosaicViewer
    order : tuple of int
        For each photo as it was given its place among `photos`.
    """

    photos: tuple[Photo, ...]
    seen: tuple[CardsSeen, ...]
    viewer: MosaicViewer
    order: tuple[int, ...]

    @property
    def drawing(self) -> Drawing:
        """From points that are drawn on the photos or on the joined picture to the slab's plane, and back."""
        return Drawing(self.viewer.plane, self.order)


def measure_photos(
    paths: Sequence[str | PathLike | Photo],
    request: Request,
    progress: Callable[[str], None] = lambda step: None,
) -> Survey:
    """Measure one slab in several overlapping photos.

    Parameters
    ----------
    paths : sequence of path or Photo
        Two to four, in any order; the first says which way is up and gives the survey its date.
    request : Request
        As for one photo, but the scale is given by cards. Points of an outline or of dabs may name their photo (see `drawn`).
    progress : callable, optional
        Called with each of `STEPS` as it begins.

    Returns
    -------
    Survey
        Its `photo` is the joined picture and all pixels are that picture's; `parts` are the photos. What was drawn is kept
        in its `request` in pixels of the photos.

    Raises
    ------
    PhotoError, ScaleError, SurveyError, WrongUse
        As for one photo; and where no card is in two photos, cards or slab were moved between them, or the photos show
        different slabs.
    """
    return measure_tied(tie_photos(paths, request, progress), request, progress)


def tie_photos(
    paths: Sequence[str | PathLike | Photo],
    request: Request,
    progress: Callable[[str], None] = lambda step: None,
) -> Tied:
    """The first half of `measure_photos`: cards, solution, joined picture; what is drawn in the request is not looked at."""
    if not 2 <= len(paths) <= MOST_PHOTOS:
        raise WrongUse(f"One slab is measured from up to {MOST_PHOTOS} photos that overlap, not from {len(paths)}.")
    if request.reference is not None:
        raise WrongUse(
            "A slab in several photos is measured by scale cards: a sheet or two points belong to one photo."
        )
    setup = request.setup()
    progress(STEPS[0])
    given = [path if isinstance(path, Photo) else read_photo(path) for path in paths]
    _require_different(given)
    progress(STEPS[1])
    seen = [find_cards(photo.pixels) for photo in given]
    _require_cards(given, seen)
    photos, seen = _chained(given, seen)
    progress(STEPS[2])
    solution = solve([view_of(*both, request) for both in zip(photos, seen)], setup)
    _require_all_tied(photos, seen, solution)
    for index, photo in enumerate(photos):
        own = FacePlane(solution, index)
        require_seen_from_above(own, own.to_mm(np.array([[photo.width / 2, photo.height / 2]]))[0])
    plane = MosaicPlane.of(solution)
    _require_unmoved(photos, plane)
    viewer = MosaicViewer(plane, tuple(photo.pixels for photo in photos))
    order = tuple(next(place for place, one in enumerate(photos) if one is photo) for photo in given)
    return Tied(tuple(photos), tuple(seen), viewer, order)


def measure_tied(tied: Tied, request: Request, progress: Callable[[str], None] = lambda step: None) -> Survey:
    """The second half of `measure_photos`. request : the one that the photos were tied with; what is drawn may be added."""
    photos, viewer, drawing = tied.photos, tied.viewer, tied.drawing
    drawing.require_shown(request)
    on_joined = moved(request, drawing.on_joined)
    survey = survey_of(_joined(photos, viewer), _together(tied.seen), viewer, on_joined, progress)
    agreements = agreement_of(viewer, survey.face.wood)
    for agreement in agreements:
        agreement.require([photos[index].name for index in agreement.photos])
    notices = survey.notices
    if {index for agreement in agreements for index in agreement.photos} < set(range(len(photos))):
        notices = (*notices, UNCHECKED)
    kept = moved(request, drawing.on_photos)
    return replace(survey, request=kept, notices=notices, parts=photos, order=tied.order, agreements=agreements)


def _joined(photos: Sequence[Photo], viewer: MosaicViewer) -> Photo:
    """The joined picture as a photo, with the date and the camera of the person's first."""
    picture, first = viewer.picture.rgb, photos[0]
    notes = tuple(dict.fromkeys(note for photo in photos for note in photo.notes))
    name = ", ".join(photo.name for photo in photos)
    return replace(first, pixels=picture, width=picture.shape[1], height=picture.shape[0], name=name, notes=notes)


def _together(seen: Sequence[CardsSeen]) -> CardsSeen:
    """The cards of all photos, and those that none of them can use."""
    cards = {card.card: card for one in seen for card in one.cards}
    rejected = {card.card: card for one in seen for card in one.rejected if card.card not in cards}
    return CardsSeen(tuple(cards.values()), tuple(rejected.values()))


def _chained(photos: list[Photo], seen: list[CardsSeen]) -> tuple[list[Photo], list[CardsSeen]]:
    """The person's first photo, then the others so that each shares a card with one before it. Raises ScaleError."""
    order, known = [0], _numbers(seen[0])
    while len(order) < len(photos):
        rest = [index for index in range(len(photos)) if index not in order]
        following = max(rest, key=lambda index: len(known & _numbers(seen[index])))
        if not known & _numbers(seen[following]):
            # One photo that stands alone is named, whichever the person gave first.
            alone = photos[0] if len(order) == 1 and len(photos) > 2 else photos[following]
            raise ScaleError(
                f"No card is seen in both {alone.name} and another of the photos: leave the cards where they are and let "
                "each photo show at least one, better two, of those in the last."
            )
        order.append(following)
        known |= _numbers(seen[following])
    return [photos[index] for index in order], [seen[index] for index in order]


def _numbers(seen: CardsSeen) -> set[int]:
    return {card.card for card in seen.cards}


def _require_different(photos: Sequence[Photo]) -> None:
    hashes = [photo.sha256 for photo in photos]
    for index, photo in enumerate(photos):
        if photo.sha256 in hashes[:index]:
            raise WrongUse(f"{photo.name} is given twice: name each photo of the slab once.")


def _require_cards(photos: Sequence[Photo], seen: Sequence[CardsSeen]) -> None:
    for photo, one in zip(photos, seen):
        if not one.cards:
            reasons = "".join(f" (card {card.card}: {card.reason})" for card in one.rejected[:1])
            raise ScaleError(
                f"No scale card can be used in {photo.name}{reasons}: each photo needs a whole card that another photo "
                "shows too."
            )


def _require_all_tied(photos: Sequence[Photo], seen: Sequence[CardsSeen], solution: Solution) -> None:
    """Cards that were left out must neither have been a photo's only ones, nor leave open which of two was moved."""
    out = {card.card for card in solution.left_out}
    for index, (photo, one) in enumerate(zip(photos, seen)):
        if _numbers(one) <= out:
            raise ScaleError(
                f"The only card that ties {photo.name} to the others does not fit them: leave the cards where they are, "
                "flat, and take the photos again."
            )
        for other, another in zip(photos[:index], seen):
            shared = _numbers(one) & _numbers(another)
            if shared & out and len(shared - out) == 1:
                first, second = sorted((min(shared & out), min(shared - out)))
                raise ScaleError(
                    f"Cards {first} and {second} do not lie in {photo.name} as they lie in {other.name}: one of them was "
                    "moved or is bent, so leave all cards where they are and take the photos again."
                )


def _require_unmoved(photos: Sequence[Photo], plane: MosaicPlane) -> None:
    """No card that counts may lie elsewhere in one photo than in another; the one that fits worst is named."""
    problem = plane.solution.problem
    off = np.linalg.norm(problem.predicted_px(plane.solution.vector) - problem.seen_px, axis=1)
    worst = MOVED_MM, None
    for index, own in enumerate(plane.planes):
        for place, card in enumerate(problem.cards):
            mine = (problem.view_of == index) & (problem.card_of == place)
            if mine.any():
                size = own.mm_per_px(own.to_mm(problem.seen_px[mine]).mean(0))
                worst = max(worst, (float(np.median(off[mine])) * size, (card, index)), key=lambda found: found[0])
    if worst[1] is not None:
        card, index = worst[1]
        raise SurveyError(
            f"Card {card} does not lie in {photos[index].name} where the other photos have it ({worst[0]:.0f} mm off, or more): "
            "leave the cards where they are, flat, and take the photos again."
        )
