"""What finding the face gives: outlines in the plane frame, how sure they are, and what a person should know."""

from dataclasses import dataclass

import numpy as np

from grainlog.errors import GrainlogError
from grainlog.notes import Note


class FaceNotFound(GrainlogError):
    """No slab can be told from its ground in this photo."""


@dataclass(frozen=True)
class Features:
    """The raw figures behind the confidence; each grows with how plausible the outline is.

    separation : how different the colours just inside and just outside are, 0 (the same) to 1 (nothing in common)
    contrast : share of the long edges and ends where a clear step of colour is crossed
    margin : mean log odds of what is wood against what is not, at low resolution, nats
    agreement : share of the low-resolution face that the fine outline keeps, and the other way round (their IoU)
    solidity : area of the outline over the area of its convex hull
    alone : 1 where nothing else in the photo looks like a slab, 0 where something looks as much like one
    learned : overlap (IoU) of the outline with what the network alone takes for the face
    closed : share of the edge beyond which the network sees no more wood
    clear : share of the face that is neither burnt out nor black
    unbroken : 1 less the share of the face that sharp dents without bark or flank would fill
    in_sight : share of the face that nothing hides
    """

    separation: float
    contrast: float
    margin: float
    agreement: float
    solidity: float
    alone: float
    learned: float
    closed: float
    clear: float
    unbroken: float
    in_sight: float


@dataclass(frozen=True)
class EdgeUncertainty:
    """Standard uncertainty of where the wood edge lies, mm.

    systematic : common to the whole of it, so it doubles in a width or a length
    random : from place to place, over about a hand's breadth along the edge
    """

    systematic: float
    random: float


@dataclass(frozen=True)
class FoundFace:
    """The slab's upper face, found in one photo.

    wood : (n, 2) float64
        Wood edge of the upper face, inside the bark; plane frame, mm, anticlockwise, open.
    holes : tuple of (m, 2) float64
        Voids that the ground is seen through.
    bark : (k, 2) float64
        Bark edge of the upper face; lies on the wood edge where there is no bark.
    silhouette : (j, 2) float64
        The whole slab as it appears in the plane, its visible flank included.
    confidence : float
        Chance that `wood` overlaps the true wood face by more than 97 % (IoU), 0 to 1.
    features : Features
        What the confidence is made of.
    edge_u_mm, end_u_mm : EdgeUncertainty
        For the long edges and for the ends.
    notes : tuple of Note
    """

    wood: np.ndarray
    holes: tuple[np.ndarray, ...]
    bark: np.ndarray
    silhouette: np.ndarray
    confidence: float
    features: Features
    edge_u_mm: EdgeUncertainty
    end_u_mm: EdgeUncertainty
    notes: tuple[Note, ...]
