"""From a photo to a filing: what the command line does for each photo of a batch, and the page for each that waits."""

import signal
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2

from grainlog.picture import draw_overlay
from grainlog.scale.priors import Print
from grainlog.scale.profile import CameraProfile
from grainlog.survey import Survey
from grainlog.survey.hand_checks import hand_checked
from grainlog.survey.picture import encode
from grainlog.yard.filing import Filing, Picture, SlabFacts
from grainlog.yard.tag_reading import TagChoice

if TYPE_CHECKING:
    from grainlog.yard.catalogue import Yard

#: Setting under which a yard keeps the profiles of its cameras.
CAMERAS = "camera_profiles"
#: No tag says which slab it is.
NO_CHOICE = TagChoice()


@dataclass(frozen=True)
class Known:
    """What a yard remembers for every photo: the size of the person's prints, and the cameras that were learned."""

    prints: Print = field(default_factory=Print)
    cameras: tuple[CameraProfile, ...] = ()

    @classmethod
    def of(cls, yard: "Yard") -> "Known":
        """As a yard remembers it."""
        bars = yard.settings.print_bars
        prints = Print.ruler(bars.across_mm, bars.down_mm) if bars else Print()
        return cls(
            prints,
            tuple(CameraProfile.from_dict(data) for data in yard.settings.get(CAMERAS, [])),
        )


@dataclass(frozen=True)
class Measured:
    """A photo that was measured and not filed yet.

    record : the survey as plain data. flat, overlay : its pictures, as JPEG files. choice : which slab its tag says.
    further : the other photos, where several were joined, each with its hash.
    """

    record: dict
    sha256: str
    flat: bytes
    overlay: bytes
    choice: TagChoice = NO_CHOICE
    further: tuple[tuple[Path, str], ...] = ()

    def filing(self, photo: Path, facts: SlabFacts, photo_name: str | None = None) -> Filing:
        """What is handed to the yard for it."""
        pictures = (Picture(self.flat, ".jpg"), Picture(self.overlay, ".jpg"))
        return Filing(
            photo,
            self.sha256,
            self.record,
            facts,
            *pictures,
            photo_name=photo_name,
            further=self.further,
        )


def measured(
    survey: Survey,
    sha256: str,
    units: str,
    choice: TagChoice = NO_CHOICE,
    further: tuple[tuple[Path, str], ...] = (),
    checks: Mapping[str, Any] | None = None,
) -> Measured:
    """A survey with its pictures drawn.

    sha256 : of its first photo. units : of the lengths in the picture, "in" or "mm". checks : as `hand_checked` takes them.
    """
    survey, record = hand_checked(survey, checks)
    overlay = encode(draw_overlay(survey.photo.pixels, record, units))
    return Measured(record, sha256, encode(survey.flat_view().rgb), overlay, choice, further)


def measuring_process() -> None:
    """Begin a process that measures beside others: Ctrl-C is the main process's, and the cores are shared, not fought over."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)
