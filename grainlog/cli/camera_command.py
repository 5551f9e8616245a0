"""`grainlog camera`: learn a camera from photos of a scale card, or say which cameras are known."""

import json
from collections.abc import Iterator
from pathlib import Path

import click

from grainlog.cli.asking import known_at
from grainlog.cli.options import json_option, yard_option
from grainlog.errors import GrainlogError, WrongUse
from grainlog.photo import Photo, read_photo
from grainlog.scale.profile import LEAST_PHOTOS, CameraProfile, calibrate
from grainlog.scale.shipped import shipped_cameras
from grainlog.yard import Yard
from grainlog.yard.adding import CAMERAS, Known


@click.command("camera")
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--file", type=click.Path(path_type=Path), metavar="FILE", help="Write the profile to FILE, not to the yard."
)
@yard_option
@json_option
def camera_command(photos: tuple[Path, ...], file: Path | None, yard: Path, as_json: bool) -> None:
    """Learn a camera from 8 to 15 PHOTOS of a scale card, so that later lengths are surer; without PHOTOS, list them.

    Stick a card to something flat. Photograph it large, from straight above and leaning 30 to 45 degrees to each
    side, in the middle and in the corners of the picture; same lens, no zoom, the camera held the same way round.
    A profile is used where a photo's metadata name its camera; the yard's own come before those that come with grainlog.
    """
    if not photos:
        if file:
            raise WrongUse("--file says where to write a new profile, so it needs the photos to make it from.")
        with Yard.open(yard) as opened:
            _show(known_cameras(opened), as_json)
        return
    if len(set(photos)) < LEAST_PHOTOS:
        raise WrongUse(f"A camera profile needs {LEAST_PHOTOS} to 15 different photos of a scale card.")
    if file:
        made = calibrate(_read(photos, as_json), known_at(yard).prints)
        _write(file, made)
    else:
        with Yard.open(yard) as opened:
            made = calibrate(_read(photos, as_json), Known.of(opened).prints)
            remember(opened, made)
    if as_json:
        click.echo(json.dumps(made.as_dict()))
    else:
        click.echo(_sentence(made))


def known_cameras(yard: Yard) -> list[CameraProfile]:
    """The profiles that a yard keeps. Raises ScaleError where one is damaged."""
    return list(Known.of(yard).cameras)


def remember(yard: Yard, made: CameraProfile) -> None:
    """Keep a profile in the yard in place of an older one of the same camera."""
    size = (made.width_px, made.height_px)
    others = [
        known
        for known in known_cameras(yard)
        if (known.width_px, known.height_px) != size
        or not known.same_camera(made.make, made.model, made.focal_35mm_mm, size)
    ]
    yard.settings.set(CAMERAS, [profile.as_dict() for profile in (*others, made)])


def _read(photos: tuple[Path, ...], quiet: bool) -> Iterator[Photo]:
    for number, path in enumerate(photos, 1):
        if not quiet:
            click.echo(f"Looking at {path.name} ({number} of {len(photos)})", err=True)
        yield read_photo(path)


def _write(file: Path, made: CameraProfile) -> None:
    try:
        file.write_text(json.dumps(made.as_dict(), indent=2) + "\n", encoding="utf-8")
    except OSError as failed:
        raise GrainlogError(f"The profile could not be written to {file}: {failed.strerror}.") from failed


def _show(known: list[CameraProfile], as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps([profile.as_dict() for profile in known]))
        return
    if not known:
        click.echo("No camera is known to this yard yet; see grainlog camera --help.")
    for profile in known:
        click.echo(_sentence(profile))
    for profile in shipped_cameras():
        click.echo(f"With grainlog comes: {_sentence(profile)}")


def _sentence(profile: CameraProfile) -> str:
    named = " ".join(part for part in (profile.make, profile.model) if part) or "A camera that does not give its name"
    alone = "" if profile.model else " Its photos cannot be told from others', so it is used for none by itself."
    return (
        f"{named}, {profile.width_px} x {profile.height_px}: focal length {profile.focal_px:.1f} px, sure to "
        f"{200 * profile.focal_u_px / profile.focal_px:.2f} %; bend k1 {profile.k1:+.4f}, k2 {profile.k2:+.4f}; from "
        f"{profile.photos} photos, corners fit to {profile.rms_px:.2f} px, {profile.day}.{alone}"
    )
