"""The QR code of a tag in a photo of a whole slab: read where it is fine enough, else compared with what it might say.

At a millimetre a pixel a module is a pixel or so and no decoder reads it. But a yard knows what its own tags say, and two
texts differ in at least eleven of the code's 26 words (10 of them correct errors; ISO/IEC 18004, table 9): so the code is
compared with the drawing of each text that is possible.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale.tag import QR_MODULES, TagText, qr_cells, read_tag_text

#: A straightened code: px a module, the rim around it in modules, its side in px.
MODULE_PX, AROUND_MODULES = 8, 4
SIDE_PX = (QR_MODULES + 2 * AROUND_MODULES) * MODULE_PX
#: Where the marker says the code lies it lies to this many modules: a tag bends.
SHIFT_MODULES = 2.0
#: Correlation of the modules that carry the text with a drawing of it: of another text it is 0.55 at most (69 others tried).
SAME_TEXT = 0.6
#: Where the patterns that all codes share correlate this well, the true text reaches `SAME_TEXT` too.
CLEAR_PATTERNS = 0.8


def read_code(code: np.ndarray) -> TagText | None:
    """What a straightened code (SIDE_PX, SIDE_PX) uint8 says; None where it cannot be read or is not of a tag."""
    first, last = AROUND_MODULES * MODULE_PX, (AROUND_MODULES + QR_MODULES) * MODULE_PX
    where = np.array(
        [[[first, first], [last, first], [last, last], [first, last]]], np.float32
    )
    detector = cv2.QRCodeDetector()
    try:
        said, _ = detector.decode(code, where)
        if not said:
            said, _, _ = detector.detectAndDecode(code)
    except cv2.error:  # raised for some codes that are not to be read
        return None
    return read_tag_text(said)


@dataclass(frozen=True)
class CodeLikeness:
    """How a straightened code compares with the drawing of a text, correlations from -1 to 1.

    text : of the modules that carry the text.
    patterns : of those that are the same in every code; low where the photo is too coarse to tell texts apart.
    """

    text: float
    patterns: float

    @property
    def same(self) -> bool:
        """Whether the code says this text."""
        return self.text >= SAME_TEXT

    @property
    def another(self) -> bool:
        """Whether the code says something else; False also where the photo is too coarse to tell."""
        return self.text < SAME_TEXT and self.patterns >= CLEAR_PATTERNS


def code_likeness(code: np.ndarray, text: TagText) -> CodeLikeness:
    """Compare a straightened code with a text.

    Where the code lies is told by the patterns that all codes share, so that trying many texts favours none.
    """
    drawn = np.where(qr_cells(text), np.float32(0), np.float32(255))
    large = drawn.repeat(MODULE_PX, 0).repeat(MODULE_PX, 1)
    shared = _shared()
    soft = cv2.GaussianBlur(code.astype(np.float32), (0, 0), MODULE_PX / 4)
    slack = round(SHIFT_MODULES * MODULE_PX)
    first = AROUND_MODULES * MODULE_PX - slack
    window = soft[
        first : first + len(large) + 2 * slack, first : first + len(large) + 2 * slack
    ]
    fit = _centred_fit(window, large, shared.repeat(MODULE_PX, 0).repeat(MODULE_PX, 1))
    row, column = np.unravel_index(np.argmax(fit), fit.shape)
    here = window[row : row + len(large), column : column + len(large)]
    seen = cv2.resize(here, (QR_MODULES, QR_MODULES), interpolation=cv2.INTER_AREA)
    told, patterns = (
        _correlation(seen[part], drawn[part]) for part in (~shared, shared)
    )
    return CodeLikeness(told, patterns)


def _correlation(one: np.ndarray, other: np.ndarray) -> float:
    spread = float(one.std() * other.std())
    return (
        float(((one - one.mean()) * (other - other.mean())).mean()) / spread
        if spread > 1e-3
        else 0.0
    )


def _shared() -> np.ndarray:
    """(21, 21) bool: finder patterns with their rims and the timing lines, which are the same in every code."""
    shared = np.zeros((QR_MODULES, QR_MODULES), bool)
    shared[:8, :8] = shared[:8, -8:] = shared[-8:, :8] = True
    shared[6, :] = shared[:, 6] = True
    return shared


def _centred_fit(
    window: np.ndarray, drawn: np.ndarray, shared: np.ndarray
) -> np.ndarray:
    """How well the shared patterns fit at each shift: the drawing about its own mean, so that plain white fits nothing."""
    weight = shared.astype(np.float32)
    centred = (drawn - drawn[shared].mean()) * weight
    product = cv2.matchTemplate(window, centred, cv2.TM_CCORR)
    total = cv2.matchTemplate(window, weight, cv2.TM_CCORR)
    squares = cv2.matchTemplate(window * window, weight, cv2.TM_CCORR)
    spread = np.sqrt(np.maximum(squares - total * total / weight.sum(), 1.0))
    return product / spread
