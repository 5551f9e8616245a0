"""What lies about: stickers, battens, a tool, boots, another slab."""

from dataclasses import replace

import bpy
import numpy as np
from mathutils import Matrix

from .. import lay, solid
from ..compose import stickers
from ..scene import Thing
from .nodes import M, material
from .slab import Stage, put_slab

#: Paint of the tool's body, linear light.
TOOL_PAINTS = ((0.5, 0.12, 0.02), (0.55, 0.5, 0.05), (0.1, 0.12, 0.1))


def put_stickers(stage: Stage):
    """The battens that the slab rests on."""
    for index, (x, y, turn, size) in enumerate(stickers(stage.scene.slab, stage.scene.lie, stage.built)):
        box(f"sticker{index}", x, y, turn, size, 0.0, (0.38, 0.28, 0.17))


def put_thing(stage: Stage, thing: Thing):
    """One piece of clutter, made of plain solids."""
    rng = np.random.default_rng(thing.seed)
    x, y, turn, size = thing.x_mm, thing.y_mm, thing.turn_rad, thing.size_mm
    name = f"thing{thing.seed}"
    if thing.kind == "batten":
        box(name, x, y, turn, size, 0, (0.45, 0.33, 0.19))
    elif thing.kind == "block":
        box(name, x, y, turn, size, 0, (0.33, 0.22, 0.13), bevel=0.006)
    elif thing.kind == "bar":
        box(name, x, y, turn, size, 0, (0.30, 0.30, 0.31), 0.35, 0.003)
        body = lay.rotation(turn, (0, 0)) @ [size[0] * 0.42, 0, 0]
        box(
            name + "b",
            x + body[0],
            y + body[1],
            turn,
            (size[0] * 0.45, 150, 110),
            8,
            rng.choice(TOOL_PAINTS),
            0.4,
            0.02,
        )
    elif thing.kind == "bucket":
        bpy.ops.mesh.primitive_cone_add(
            vertices=64,
            radius1=size[0] * 0.42 * M,
            radius2=size[0] * 0.5 * M,
            depth=size[2] * M,
            end_fill_type="NGON",
            location=(x * M, y * M, size[2] / 2 * M),
        )
        bpy.context.object.data.materials.append(plain(name, (0.05, 0.05, 0.055), 0.5, grain=0.2))
        bpy.ops.object.shade_smooth()
    elif thing.kind == "boots":
        for side in (-1, 1):
            offset = lay.rotation(turn, (0, 0)) @ [side * size[0] * 0.62, 0, 0]
            for part, (long, up, back) in enumerate(((1.0, 0.62, 0), (0.42, 1.6, -0.27))):
                shift = lay.rotation(turn, (0, 0)) @ [0, back * size[1], 0]
                box(
                    f"{name}{side}{part}",
                    x + offset[0] + shift[0],
                    y + offset[1] + shift[1],
                    turn + side * 0.06,
                    (size[0], size[1] * long, size[2] * up),
                    0,
                    (0.06, 0.045, 0.03),
                    0.7,
                    0.03,
                )
    elif thing.kind == "slab":
        other_slab = replace(
            stage.scene.slab,
            form="plain",
            length_mm=size[0],
            width_mm=size[1] * 0.86,
            flank_mm=20.0,
            thickness_mm=size[2],
            void=False,
            wobble_mm=14.0,
            seed=thing.seed,
        )
        other_wood = replace(stage.scene.wood, seed=thing.seed, end_checks=2)
        other_lie = replace(
            stage.scene.lie, x_mm=x, y_mm=y, turn_rad=turn, tilt_rad=(0.0, 0.0), cup_mm=0.0, lift_mm=0.0
        )
        other = replace(stage.scene, slab=other_slab, wood=other_wood, lie=other_lie, seed=thing.seed)
        folder = stage.folder / name
        folder.mkdir()
        put_slab(Stage(other, solid.build(other_slab, other_wood), folder, np.random.default_rng(thing.seed + 31)))


def box(name, x, y, turn, size, z, colour, roughness=0.85, bevel=0.0015):
    """A box with rounded edges: place and size in mm, `z` its underside, `bevel` in m."""
    bpy.ops.mesh.primitive_cube_add(size=1)
    made = bpy.context.object
    made.name = name
    made.data.transform(Matrix.Diagonal((*(s * M for s in size), 1)))
    made.location = (x * M, y * M, (z + size[2] / 2) * M)
    made.rotation_euler = (0, 0, turn)
    modifier = made.modifiers.new("edge", "BEVEL")
    modifier.width, modifier.segments = bevel, 2
    made.data.materials.append(plain(name, colour, roughness))
    return made


def plain(name, colour, roughness, grain=0.5):
    """A surface of one colour with some unevenness."""
    made, tree, shader = material(name, roughness if roughness < 0.6 else None)
    speckle = tree.nodes.new("ShaderNodeTexNoise")
    speckle.inputs["Scale"].default_value = 9
    speckle.inputs["Detail"].default_value = 8
    coordinates = tree.nodes.new("ShaderNodeTexCoord")
    tree.links.new(coordinates.outputs["Generated"], speckle.inputs["Vector"])
    mix = tree.nodes.new("ShaderNodeMix")
    mix.data_type, mix.blend_type = "RGBA", "OVERLAY"
    mix.inputs["Factor"].default_value = grain
    mix.inputs[6].default_value = (*colour, 1)
    tree.links.new(speckle.outputs["Fac"], mix.inputs[7])
    tree.links.new(mix.outputs[2], shader.inputs[0])
    return made
