"""Photo files of every kind, made on the spot; nothing binary is kept in the project."""

import io
import struct
import zlib

import numpy as np
import pillow_heif
from PIL import Image

SIZE = (800, 600)

# How the rows and columns of an upright picture are stored under each EXIF orientation (CIPA DC-008, Orientation tag):
# the value says where the 0th row and the 0th column of the stored picture are in what a person should see.
STORED = {
    1: lambda upright: upright,
    2: lambda upright: upright[:, ::-1],
    3: lambda upright: upright[::-1, ::-1],
    4: lambda upright: upright[::-1],
    5: lambda upright: upright.transpose(1, 0, 2),
    6: lambda upright: upright[:, ::-1].transpose(1, 0, 2),
    7: lambda upright: upright[::-1, ::-1].transpose(1, 0, 2),
    8: lambda upright: upright[::-1].transpose(1, 0, 2),
}


def scene(width: int = SIZE[0], height: int = SIZE[1]) -> np.ndarray:
    """An upright picture whose corners differ: red top left, green top right, blue bottom left, grey bottom right."""
    picture = np.full((height, width, 3), 128, np.uint8)
    picture[: height // 2, : width // 2] = (220, 30, 30)
    picture[: height // 2, width // 2 :] = (30, 200, 30)
    picture[height // 2 :, : width // 2] = (30, 30, 220)
    return picture


def corners(pixels: np.ndarray) -> np.ndarray:
    """Colour of the middle of each quarter: top left, top right, bottom left, bottom right, (4, 3) int."""
    height, width = pixels.shape[:2]
    rows, columns = (height // 4, 3 * height // 4), (width // 4, 3 * width // 4)
    return np.array([pixels[row, column] for row in rows for column in columns]).astype(int)


def saved(path, image, kind: str, **options):
    """Write a Pillow image or array as JPEG, PNG, TIFF, WEBP or HEIF, and give back the path."""
    image = image if isinstance(image, Image.Image) else Image.fromarray(np.ascontiguousarray(image))
    if kind == "HEIF":
        pillow_heif.from_pillow(image).save(path, quality=90, **options)
    else:
        image.save(path, kind, **options)
    return path


def exif(orientation: int | None = None, **more) -> bytes:
    """EXIF bytes; `more` takes make, model, moment, offset, focal."""
    block = Image.Exif()
    inner = block.get_ifd(0x8769)
    for key, value in (("make", 0x010F), ("model", 0x0110), ("changed", 0x0132)):
        if key in more:
            block[value] = more[key]
    if orientation is not None:
        block[0x0112] = orientation
    for key, value in (("moment", 0x9003), ("offset", 0x9011), ("focal", 0xA405)):
        if key in more:
            inner[value] = more[key]
    return block.tobytes()


def png_bytes(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def deep_png(width: int, height: int, grey: int) -> bytes:
    """A 16-bit RGB PNG of one colour (Pillow cannot write one): ISO/IEC 15948, colour type 2, bit depth 16."""
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    row = b"\0" + struct.pack(">H", grey) * 3 * width
    header = struct.pack(">IIBBBBB", width, height, 16, 2, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(row * height))
            + chunk(b"IEND", b""))


def matrix_profile(red, green, blue, gamma: float, name: bytes = b"Wide") -> bytes:
    """An ICC.1 version 2 display profile from its three colorants (XYZ, relative to D50) and one gamma."""

    def xyz(values):
        return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(value * 65536)) for value in values)

    text = b"desc\0\0\0\0" + struct.pack(">I", len(name) + 1) + name + b"\0" + b"\0" * (4 + 4 + 2 + 1 + 67)
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    white = xyz((0.9642, 1.0, 0.8249))
    tags = {b"desc": text, b"cprt": b"text\0\0\0\0none\0", b"wtpt": white, b"rXYZ": xyz(red), b"gXYZ": xyz(green),
            b"bXYZ": xyz(blue), b"rTRC": curve, b"gTRC": curve, b"bTRC": curve}
    table, body, at = struct.pack(">I", len(tags)), b"", 128 + 4 + 12 * len(tags)
    for tag, data in tags.items():
        data += b"\0" * (-len(data) % 4)
        table += tag + struct.pack(">II", at + len(body), len(data))
        body += data
    size = 128 + len(table) + len(body)
    header = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    header += b"\0" * 12 + b"acsp"
    header += b"\0" * 28 + struct.pack(">iii", 63190, 65536, 54061)
    return header.ljust(128, b"\0") + table + body


# Display P3 colorants adapted to D50, as its published ICC profile rounds them (from memory; the test that uses them
# compares with a computation from the primaries and the D65 white, not with this row).
DISPLAY_P3 = ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))
