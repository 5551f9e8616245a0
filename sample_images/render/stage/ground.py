"""The ground in the path tracer, and the grass or loose stones on it."""

import numpy as np
import shapely

from grainlog.scale import card as scale_card

from .. import grounds, lay
from .nodes import M, bump, image, material, mesh
from .slab import Stage

#: Grounds with real blades or stones on them.
STANDING = ("grass", "gravel")


def put_ground(stage: Stage, textures):
    """The ground at z = 0 with its picture; a tarpaulin has wrinkles away from what lies on it."""
    scene = stage.scene
    picture = grounds.picture(scene.ground, scene.seed + 5, textures)
    made, tree, shader = material("ground", picture.roughness if picture.roughness < 0.6 else None)
    colour = image(tree, stage.save(picture.rgb, "ground.png"), "sRGB", "REPEAT")
    tree.links.new(colour.outputs["Color"], shader.inputs[0])
    high = image(tree, stage.save(picture.height / 4 + 0.5, "ground_height.png"), "Non-Color", "REPEAT")
    if scene.ground not in STANDING:
        bump(tree, shader, high.outputs["Color"], picture.bump_mm * 2 * M, 0.7)
    _stain(stage, tree, colour, shader)
    keep = _keep_flat(stage)
    if scene.ground == "tarpaulin":
        grid = np.arange(-3500.0, 3501, 14)
    else:
        grid = np.array([-9000.0, 9000.0])
    x, y = np.meshgrid(grid, grid)
    flat = np.column_stack([x.ravel(), y.ravel()])
    z = np.zeros(len(flat))
    if scene.ground == "tarpaulin":
        z = grounds.wrinkles(flat, shapely.distance(shapely.points(flat), keep), stage.rng)
    side = len(grid)
    index = np.arange((side - 1) * side).reshape(side - 1, side)[:, : side - 1].ravel()
    quads = np.column_stack([index, index + 1, index + side + 1, index + side])
    turn = stage.rng.normal(0, 0.3)
    uv = flat @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) / picture.tile_mm + 50
    mesh("ground", np.column_stack([flat, z]), quads, made, uv=uv, smooth=True)
    if scene.ground in STANDING:
        _scatter(stage, keep)


def _stain(stage: Stage, tree, colour, shader):
    """Large soft patches, so that the repeats of the picture do not show."""
    patches = tree.nodes.new("ShaderNodeTexNoise")
    patches.inputs["Scale"].default_value = 1.1
    patches.inputs["Detail"].default_value = 1
    coordinates = tree.nodes.new("ShaderNodeTexCoord")
    tree.links.new(coordinates.outputs["Object"], patches.inputs["Vector"])
    mix = tree.nodes.new("ShaderNodeMix")
    mix.data_type, mix.blend_type = "RGBA", "SOFT_LIGHT"
    mix.inputs["Factor"].default_value = 0.08 if stage.scene.ground == "tarpaulin" else 0.7
    tree.links.new(colour.outputs["Color"], mix.inputs[6])
    tree.links.new(patches.outputs["Fac"], mix.inputs[7])
    tree.links.new(mix.outputs[2], shader.inputs[0])


def _keep_flat(stage: Stage):
    """Where nothing may stand up: under slab, cards and things."""
    scene, shapes = stage.scene, []
    for skirt in stage.built.skirts:
        for row in skirt.points[::3]:
            shapes.append(shapely.Polygon(lay.slab_to_world(row, scene.lie, scene.slab)[:, :2]).buffer(0))
    for card in scene.cards:
        if card.on == "floor":
            shapes.append(_paper(stage, card))
    return shapely.union_all(shapes)


def _scatter(stage: Stage, keep):
    """Blades of grass or loose stones, never where they would hide a card or lie on the slab."""
    scene = stage.scene
    dense = 260_000 if scene.ground == "grass" else 30_000
    places = stage.rng.uniform(-1, 1, (dense, 2)) * [2300, 1900]
    clear = keep.buffer(3)
    for card in scene.cards:
        if card.on == "floor":
            paper = _paper(stage, card)
            clear = clear.union(paper.buffer(45 if scene.ground == "grass" else 12))
    shapely.prepare(clear)
    places = places[~shapely.contains_xy(clear, places[:, 0], places[:, 1])]
    make = grounds.blades if scene.ground == "grass" else grounds.pebbles
    vertices, triangles, tint = make(places, stage.rng)
    made, tree, shader = material("scatter")
    attribute = tree.nodes.new("ShaderNodeAttribute")
    attribute.attribute_name = "tint"
    tree.links.new(attribute.outputs["Color"], shader.inputs[0])
    mesh("scatter", vertices, triangles, made, tint=tint, smooth=scene.ground == "gravel")


def _paper(stage: Stage, card) -> shapely.Polygon:
    """The card's outline on the ground."""
    ring = lay.card_to_world(card, scale_card.outline(), stage.scene.lie, stage.scene.slab)
    return shapely.Polygon(ring[:, :2])
