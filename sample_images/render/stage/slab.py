"""The slab and the scale cards in the path tracer."""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import shapely

from grainlog.scale import card as scale_card

from .. import lay, noise, solid, wood
from ..scene import Card, Scene
from .nodes import M, bump, image, material, mesh


@dataclass(frozen=True)
class Stage:
    """One scene being set up: what it is, the built slab, the dice for its looks, a folder for its pictures.

    `picture` is the painted face; where it is None it is painted here.
    """

    scene: Scene
    built: solid.Solid
    folder: Path
    rng: np.random.Generator
    picture: wood.FacePicture | None = None

    @property
    def look(self) -> wood.Look:
        """Colours of the species."""
        return wood.LOOKS[self.scene.wood.species]

    def save(self, values, name) -> str:
        """Write (h, w) or (h, w, 3) values 0..1 as an 8-bit picture; its path."""
        path = str(self.folder / name)
        values = np.clip(np.rint(np.asarray(values) * 255), 0, 255).astype(np.uint8)
        cv2.imwrite(path, values[..., ::-1] if values.ndim == 3 else values, [cv2.IMWRITE_PNG_COMPRESSION, 1])
        return path


def linear(srgb) -> np.ndarray:
    """sRGB 0..1 to linear light (IEC 61966-2-1)."""
    srgb = np.asarray(srgb, float)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def put_slab(stage: Stage):
    """Face, bark rim and walls of the slab."""
    picture = stage.picture or wood.paint(stage.built, stage.scene.wood)
    _face_mesh(stage, "wood", stage.built.wood, picture, _face_material(stage, picture, picture.wood, "wood", True))
    rim = stage.built.bark.difference(stage.built.wood)
    _face_mesh(stage, "rim", rim, picture, _face_material(stage, picture, picture.bark_cut, "rim", False))
    for index, skirt in enumerate(stage.built.skirts):
        _skirt(stage, f"skirt{index}", skirt)


def _face_mesh(stage: Stage, name, shape, picture, surface):
    """Triangles of a part of the face, in bands across so that they follow the cup."""
    low, high = shape.bounds[1], shape.bounds[3]
    bands = [shape]
    if stage.scene.lie.cup_mm:
        edges = np.linspace(low, high, max(2, int((high - low) / 25)))
        bands = [shape.intersection(shapely.box(-9000, a, 9000, b)) for a, b in zip(edges, edges[1:], strict=False)]
    triangles = []
    for band in bands:
        for part in shapely.get_parts(shapely.get_parts(band)):
            if part.geom_type == "Polygon" and part.area > 1e-3:
                triangles += list(shapely.constrained_delaunay_triangles(part).geoms)
    points = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
    corners = points.reshape(-1, 3, 2)
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    way = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    corners[way < 0] = corners[way < 0][:, ::-1]
    points = corners.reshape(-1, 2)
    uv = (points - [picture.origin_mm[0], picture.origin_mm[1] - picture.size_mm[1]]) / picture.size_mm
    world = lay.slab_to_world(points, stage.scene.lie, stage.scene.slab)
    mesh(name, world, np.arange(len(points)).reshape(-1, 3), surface, uv=uv)


def _face_material(stage: Stage, picture, colour, name, is_wood):
    """The painted face: relief and gloss for the wood, matt for the sawn bark."""
    made, tree, shader = material(name, 0.8 if is_wood else None)
    image_node = image(tree, stage.save(colour, f"{name}.png"), "sRGB")
    tree.links.new(image_node.outputs["Color"], shader.inputs[0])
    if is_wood:
        gloss = image(tree, stage.save(picture.gloss, "gloss.png"), "Non-Color")
        tree.links.new(gloss.outputs["Color"], shader.inputs["Roughness"])
        relief = image(tree, stage.save(picture.relief / 2.4 + 0.7, "relief.png"), "Non-Color")
        bump(tree, shader, relief.outputs["Color"], 2.4 * M, 0.6)
        if stage.scene.wood.wet:
            shader.inputs["Coat Weight"].default_value = 0.5
            shader.inputs["Coat Roughness"].default_value = 0.22
    return made


def _skirt(stage: Stage, name, skirt: solid.Skirt):
    """One wall: flank and sawn ends, or the inside of a hole."""
    rows, count = skirt.points.shape[:2]
    world = lay.slab_to_world(skirt.points.reshape(-1, 3), stage.scene.lie, stage.scene.slab)
    columns = np.arange(count)
    after = (columns + 1) % count
    quads = np.concatenate(
        [
            np.column_stack(
                [r * count + columns, (r + 1) * count + columns, (r + 1) * count + after, r * count + after]
            )
            for r in range(rows - 1)
        ]
    )
    if skirt.kind[0] == solid.VOID:
        quads = quads[:, ::-1] if shapely.LinearRing(skirt.points[0, :, :2]).is_ccw else quads
    made, tree, shader = material(name)
    attribute = tree.nodes.new("ShaderNodeAttribute")
    attribute.attribute_name = "tint"
    speckle = tree.nodes.new("ShaderNodeTexNoise")
    speckle.inputs["Scale"].default_value = 190
    speckle.inputs["Detail"].default_value = 5
    mix = tree.nodes.new("ShaderNodeMix")
    mix.data_type, mix.blend_type = "RGBA", "OVERLAY"
    mix.inputs["Factor"].default_value = 0.95
    tree.links.new(attribute.outputs["Color"], mix.inputs[6])
    tree.links.new(speckle.outputs["Fac"], mix.inputs[7])
    tree.links.new(mix.outputs[2], shader.inputs[0])
    coordinates = tree.nodes.new("ShaderNodeTexCoord")
    tree.links.new(coordinates.outputs["Object"], speckle.inputs["Vector"])
    bump(tree, shader, speckle.outputs["Fac"], 9 * M, 1.0)
    mesh(name, world, quads, made, tint=_skirt_tint(stage, skirt).reshape(-1, 3))


def _skirt_tint(stage: Stage, skirt: solid.Skirt) -> np.ndarray:
    """(rows, n, 3) linear colour of the wall: furrowed bark, bare wood, end grain, or the dark inside of a hole."""
    rows, count = skirt.points.shape[:2]
    bark, heart, sap = (linear(np.array(c) / 255) for c in (stage.look.bark, stage.look.heart, stage.look.sap))
    around = np.linspace(0, 6000, count)
    tone = 1 + 0.25 * noise.line(around, 60, stage.rng) + 0.12 * noise.line(around, 12, stage.rng)
    furrow = noise.field((rows, count), (1.6, 22), stage.rng) + 0.7 * noise.field((rows, count), (1.1, 5), stage.rng)
    lichen = noise.smoothstep(noise.field((rows, count), (4, 40), stage.rng), 1.0, 2.2)[..., None] * 0.5
    share = noise.smoothstep(skirt.bark, 0.5, 3)[:, None]
    rough = bark * (1 + 0.42 * furrow).clip(0.25, 2.0)[..., None]
    rough = rough + lichen * (np.array([0.30, 0.31, 0.25]) - rough)
    bare = (0.75 * sap + 0.25 * heart) * 0.8 * (1 + 0.12 * furrow)[..., None]
    tint = bare + share * (rough - bare)
    sawn = skirt.kind == solid.END
    tint[:, sawn] = (0.7 * heart + 0.15 * sap) * (1 + 0.08 * furrow[:, sawn, None])
    tint[:, skirt.kind == solid.VOID] = heart * 0.28
    return np.clip(tint * tone.clip(0.5, 1.6)[None, :, None], 0.008, 0.9)


def put_card(stage: Stage, card: Card):
    """The paper as a fine grid, bent and tilted; its picture is the card's own raster, pixel for pixel."""
    columns, rows = np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 28))
    share = np.column_stack([columns.ravel(), rows.ravel()])
    points = scale_card.print_to_card(share * [scale_card.WIDTH_MM, scale_card.HEIGHT_MM])
    world = lay.card_to_world(card, points, stage.scene.lie, stage.scene.slab)
    index = np.arange(27 * 21).reshape(27, 21)[:, :20].ravel()
    quads = np.column_stack([index, index + 21, index + 22, index + 1])
    made, tree, shader = material(f"card{card.id}")
    picture = np.where(scale_card.raster(card.id, 4) > 127, 0.80, 0.035)
    node = image(tree, stage.save(picture, f"card{card.id}.png"), "Non-Color", "EXTEND")
    tree.links.new(node.outputs["Color"], shader.inputs[0])
    mesh(f"card{card.id}", world, quads, made, uv=np.column_stack([share[:, 0], 1 - share[:, 1]]))
