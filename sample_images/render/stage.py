"""The scene in the path tracer: the only module that needs bpy (Blender's Cycles as a Python module, CPU).

Everything that decides where something is comes from `solid`, `lay` and `optics`; here it is only shown. One scene per
process. Lengths go in as metres.
"""

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import bpy
import cv2
import numpy as np
import shapely
from mathutils import Matrix, Vector

from grainlog.scale import card as scale_card

from . import grounds, lay, noise, optics, solid, wood
from .compose import stickers
from .scene import Card, Scene, Thing

M = 0.001


@dataclass(frozen=True)
class Effort:
    """How much light is traced: samples a pixel at most, noise threshold of the adaptive sampling, bounces, threads."""

    samples: int = 20
    threshold: float = 0.08
    bounces: int = 3
    threads: int = 2
    denoise: bool = True


def linear(srgb) -> np.ndarray:
    """sRGB 0..1 to linear light (IEC 61966-2-1)."""
    srgb = np.asarray(srgb, float)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def trace(scene: Scene, built: solid.Solid, seen: optics.View, overscan: float, textures: Path | None, effort: Effort) -> np.ndarray:
    """Trace `scene`: (h, w, 3) float32 linear light of a pinhole with the focal length of `seen`, principal point in
    the middle, `overscan` times as wide and high as the photo."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    with tempfile.TemporaryDirectory() as folder:
        build = _Builder(scene, built, Path(folder))
        build.slab()
        for card in scene.cards:
            build.card(card)
        for thing in scene.clutter:
            build.thing(thing)
        build.stickers()
        build.ground(textures)
        build.light()
        return _render(seen, overscan, effort, Path(folder))


def _render(seen, overscan, effort, folder) -> np.ndarray:
    stage = bpy.context.scene
    width, height = (2 * round(side * overscan / 2) for side in seen.size_px)
    data = bpy.data.cameras.new("camera")
    data.sensor_fit, data.sensor_width, data.lens = "HORIZONTAL", 36.0, seen.f / width * 36.0
    data.clip_start, data.clip_end = 0.05, 100
    camera = bpy.data.objects.new("camera", data)
    axes = np.eye(4)
    axes[:3, :3] = seen.rotation.T @ np.diag([1.0, -1.0, -1.0])
    axes[:3, 3] = seen.position * M
    camera.matrix_world = Matrix(axes.tolist())
    stage.collection.objects.link(camera)
    stage.camera = camera
    stage.render.engine = "CYCLES"
    stage.render.resolution_x, stage.render.resolution_y, stage.render.resolution_percentage = width, height, 100
    stage.render.threads_mode, stage.render.threads = "FIXED", effort.threads
    cycles = stage.cycles
    cycles.device = "CPU"
    cycles.samples, cycles.use_adaptive_sampling, cycles.adaptive_threshold = effort.samples, True, effort.threshold
    cycles.adaptive_min_samples = min(4, effort.samples)
    cycles.use_denoising, cycles.denoiser, cycles.denoising_input_passes = effort.denoise, "OPENIMAGEDENOISE", "RGB_ALBEDO_NORMAL"
    cycles.denoising_prefilter, cycles.denoising_quality = "FAST", "BALANCED"
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = effort.bounces, 2, 1
    cycles.use_light_tree = False
    cycles.transmission_bounces, cycles.transparent_max_bounces = 0, 2
    cycles.caustics_reflective = cycles.caustics_refractive = False
    cycles.sample_clamp_indirect, cycles.pixel_filter_type, cycles.filter_width = 4.0, "BLACKMAN_HARRIS", 1.5
    cycles.use_auto_tile, cycles.tile_size = True, 2048
    stage.view_settings.view_transform = "Raw"
    stage.render.image_settings.file_format = "OPEN_EXR"
    stage.render.image_settings.color_depth = "16"
    stage.render.image_settings.exr_codec = "NONE"
    stage.render.filepath = str(folder / "light.exr")
    bpy.ops.render.render(write_still=True)
    image = bpy.data.images.load(stage.render.filepath)
    pixels = np.empty(width * height * image.channels, np.float32)
    image.pixels.foreach_get(pixels)
    return pixels.reshape(height, width, image.channels)[::-1, :, :3].copy()


class _Builder:
    """Puts one scene's parts into the path tracer."""

    def __init__(self, scene: Scene, built: solid.Solid, folder: Path):
        self.scene, self.built, self.folder = scene, built, folder
        self.rng = np.random.default_rng(scene.seed + 31)
        self.look = wood.LOOKS[scene.wood.species]

    def slab(self):
        picture = wood.paint(self.built, self.scene.wood)
        self.face_mesh("wood", self.built.wood, picture, self.face_material(picture, picture.wood, "wood", True))
        rim = self.built.bark.difference(self.built.wood)
        self.face_mesh("rim", rim, picture, self.face_material(picture, picture.bark_cut, "rim", False))
        for index, skirt in enumerate(self.built.skirts):
            self.skirt(f"skirt{index}", skirt)

    def face_mesh(self, name, shape, picture, material):
        """Triangles of a part of the face, in bands across so that they follow the cup."""
        low, high = shape.bounds[1], shape.bounds[3]
        bands = [shape]
        if self.scene.lie.cup_mm:
            edges = np.linspace(low, high, max(2, int((high - low) / 25)))
            bands = [shape.intersection(shapely.box(-9000, a, 9000, b)) for a, b in zip(edges, edges[1:])]
        triangles = []
        for band in bands:
            for part in shapely.get_parts(shapely.get_parts(band)):
                if part.geom_type == "Polygon" and part.area > 1e-3:
                    triangles += list(shapely.constrained_delaunay_triangles(part).geoms)
        points = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
        corners = points.reshape(-1, 3, 2)
        way = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        corners[way < 0] = corners[way < 0][:, ::-1]
        points = corners.reshape(-1, 2)
        uv = (points - [picture.origin_mm[0], picture.origin_mm[1] - picture.size_mm[1]]) / picture.size_mm
        world = lay.slab_to_world(points, self.scene.lie, self.scene.slab)
        mesh(name, world, np.arange(len(points)).reshape(-1, 3), material, uv=uv)

    def face_material(self, picture, colour, name, is_wood):
        made, tree, shader = material(name, 0.8 if is_wood else None)
        image_node = image(tree, self.save(colour, f"{name}.png"), "sRGB")
        tree.links.new(image_node.outputs["Color"], shader.inputs[0])
        if is_wood:
            gloss = image(tree, self.save(picture.gloss, "gloss.png"), "Non-Color")
            tree.links.new(gloss.outputs["Color"], shader.inputs["Roughness"])
            relief = image(tree, self.save(picture.relief / 2.4 + 0.7, "relief.png"), "Non-Color")
            bump(tree, shader, relief.outputs["Color"], 2.4 * M, 0.6)
            if self.scene.wood.wet:
                shader.inputs["Coat Weight"].default_value = 0.5
                shader.inputs["Coat Roughness"].default_value = 0.22
        return made

    def save(self, values, name):
        path = str(self.folder / name)
        values = np.clip(np.rint(np.asarray(values) * 255), 0, 255).astype(np.uint8)
        cv2.imwrite(path, values[..., ::-1] if values.ndim == 3 else values, [cv2.IMWRITE_PNG_COMPRESSION, 1])
        return path

    def skirt(self, name, skirt: solid.Skirt):
        rows, count = skirt.points.shape[:2]
        world = lay.slab_to_world(skirt.points.reshape(-1, 3), self.scene.lie, self.scene.slab)
        columns = np.arange(count)
        after = (columns + 1) % count
        quads = np.concatenate([
            np.column_stack([r * count + columns, (r + 1) * count + columns, (r + 1) * count + after, r * count + after])
            for r in range(rows - 1)
        ])
        if skirt.kind[0] == solid.VOID:
            quads = quads if shapely.LinearRing(skirt.points[0, :, :2]).is_ccw is False else quads[:, ::-1]
        made, tree, shader = material(name)
        attribute = tree.nodes.new("ShaderNodeAttribute")
        attribute.attribute_name = "tint"
        speckle = tree.nodes.new("ShaderNodeTexNoise")
        speckle.inputs["Scale"].default_value = 130
        speckle.inputs["Detail"].default_value = 5
        mix = tree.nodes.new("ShaderNodeMix")
        mix.data_type, mix.blend_type = "RGBA", "OVERLAY"
        mix.inputs["Factor"].default_value = 0.6
        tree.links.new(attribute.outputs["Color"], mix.inputs[6])
        tree.links.new(speckle.outputs["Fac"], mix.inputs[7])
        tree.links.new(mix.outputs[2], shader.inputs[0])
        coordinates = tree.nodes.new("ShaderNodeTexCoord")
        tree.links.new(coordinates.outputs["Object"], speckle.inputs["Vector"])
        bump(tree, shader, speckle.outputs["Fac"], 4 * M, 0.7)
        mesh(name, world, quads, made, tint=self.skirt_tint(skirt).reshape(-1, 3))

    def skirt_tint(self, skirt: solid.Skirt) -> np.ndarray:
        """(rows, n, 3) linear colour of the wall: furrowed bark, bare wood, end grain, or the dark inside of a hole."""
        rows, count = skirt.points.shape[:2]
        bark, heart, sap = (linear(np.array(c) / 255) for c in (self.look.bark, self.look.heart, self.look.sap))
        around = np.linspace(0, 6000, count)
        tone = 1 + 0.25 * noise.line(around, 60, self.rng) + 0.12 * noise.line(around, 12, self.rng)
        furrow = noise.field((rows, count), (1.6, 22), self.rng) + 0.7 * noise.field((rows, count), (1.1, 5), self.rng)
        lichen = noise.smoothstep(noise.field((rows, count), (4, 40), self.rng), 1.0, 2.2)[..., None] * 0.5
        share = noise.smoothstep(skirt.bark, 0.5, 3)[:, None]
        rough = bark * (1 + 0.42 * furrow).clip(0.25, 2.0)[..., None]
        rough = rough + lichen * (np.array([0.30, 0.31, 0.25]) - rough)
        bare = (0.75 * sap + 0.25 * heart) * 0.8 * (1 + 0.12 * furrow)[..., None]
        tint = bare + share * (rough - bare)
        tint[:, skirt.kind == solid.END] = (0.7 * heart + 0.15 * sap) * (1 + 0.08 * furrow[:, skirt.kind == solid.END, None])
        tint[:, skirt.kind == solid.VOID] = heart * 0.28
        return np.clip(tint * tone.clip(0.5, 1.6)[None, :, None], 0.008, 0.9)

    def card(self, card: Card):
        """The paper as a fine grid, bent and tilted; its picture is the card's own raster, pixel for pixel."""
        columns, rows = np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 28))
        share = np.column_stack([columns.ravel(), rows.ravel()])
        points = scale_card.print_to_card(share * [scale_card.WIDTH_MM, scale_card.HEIGHT_MM])
        world = lay.card_to_world(card, points, self.scene.lie, self.scene.slab)
        index = np.arange(27 * 21).reshape(27, 21)[:, :20].ravel()
        quads = np.column_stack([index, index + 21, index + 22, index + 1])
        made, tree, shader = material(f"card{card.id}")
        picture = np.where(scale_card.raster(card.id, 4) > 127, 0.80, 0.035)
        node = image(tree, self.save(picture, f"card{card.id}.png"), "Non-Color", "EXTEND")
        tree.links.new(node.outputs["Color"], shader.inputs[0])
        mesh(f"card{card.id}", world, quads, made, uv=np.column_stack([share[:, 0], 1 - share[:, 1]]))

    def stickers(self):
        for index, (x, y, turn, size) in enumerate(stickers(self.scene.slab, self.scene.lie, self.built)):
            self.box(f"sticker{index}", x, y, turn, size, 0.0, (0.38, 0.28, 0.17))

    def box(self, name, x, y, turn, size, z, colour, roughness=0.85, bevel=0.0015):
        bpy.ops.mesh.primitive_cube_add(size=1)
        made = bpy.context.object
        made.name = name
        made.data.transform(Matrix.Diagonal((*(s * M for s in size), 1)))
        made.location = (x * M, y * M, (z + size[2] / 2) * M)
        made.rotation_euler = (0, 0, turn)
        modifier = made.modifiers.new("edge", "BEVEL")
        modifier.width, modifier.segments = bevel, 2
        made.data.materials.append(self.plain(name, colour, roughness))
        return made

    def plain(self, name, colour, roughness, grain=0.5):
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

    def thing(self, thing: Thing):
        rng = np.random.default_rng(thing.seed)
        x, y, turn, size = thing.x_mm, thing.y_mm, thing.turn_rad, thing.size_mm
        name = f"thing{thing.seed}"
        if thing.kind == "batten":
            self.box(name, x, y, turn, size, 0, (0.45, 0.33, 0.19))
        elif thing.kind == "block":
            self.box(name, x, y, turn, size, 0, (0.33, 0.22, 0.13), bevel=0.006)
        elif thing.kind == "bar":
            self.box(name, x, y, turn, size, 0, (0.30, 0.30, 0.31), 0.35, 0.003)
            body = lay.rotation(turn, (0, 0)) @ [size[0] * 0.42, 0, 0]
            self.box(name + "b", x + body[0], y + body[1], turn, (size[0] * 0.45, 150, 110), 8, rng.choice([(0.5, 0.12, 0.02), (0.55, 0.5, 0.05), (0.1, 0.12, 0.1)]), 0.4, 0.02)
        elif thing.kind == "bucket":
            bpy.ops.mesh.primitive_cone_add(vertices=64, radius1=size[0] * 0.42 * M, radius2=size[0] * 0.5 * M, depth=size[2] * M, end_fill_type="NGON", location=(x * M, y * M, size[2] / 2 * M))
            bpy.context.object.data.materials.append(self.plain(name, (0.05, 0.05, 0.055), 0.5, grain=0.2))
            bpy.ops.object.shade_smooth()
        elif thing.kind == "boots":
            for side in (-1, 1):
                offset = lay.rotation(turn, (0, 0)) @ [side * size[0] * 0.62, 0, 0]
                for part, (long, up, back) in enumerate(((1.0, 0.62, 0), (0.42, 1.6, -0.27))):
                    shift = lay.rotation(turn, (0, 0)) @ [0, back * size[1], 0]
                    self.box(f"{name}{side}{part}", x + offset[0] + shift[0], y + offset[1] + shift[1], turn + side * 0.06,
                             (size[0], size[1] * long, size[2] * up), 0, (0.06, 0.045, 0.03), 0.7, 0.03)
        elif thing.kind == "slab":
            other_slab = replace(self.scene.slab, form="plain", length_mm=size[0], width_mm=size[1] * 0.86, flank_mm=20.0,
                                 thickness_mm=size[2], void=False, wobble_mm=14.0, seed=thing.seed)
            other_wood = replace(self.scene.wood, seed=thing.seed, end_checks=2)
            other_lie = replace(self.scene.lie, x_mm=x, y_mm=y, turn_rad=turn, tilt_rad=(0.0, 0.0), cup_mm=0.0, lift_mm=0.0)
            other = replace(self.scene, slab=other_slab, wood=other_wood, lie=other_lie, seed=thing.seed)
            folder = self.folder / name
            folder.mkdir()
            _Builder(other, solid.build(other_slab, other_wood), folder).slab()

    def ground(self, textures):
        scene = self.scene
        picture = grounds.picture(scene.ground, scene.seed + 5, textures)
        made, tree, shader = material("ground", picture.roughness if picture.roughness < 0.6 else None)
        colour = image(tree, self.save(picture.rgb, "ground.png"), "sRGB", "REPEAT")
        tree.links.new(colour.outputs["Color"], shader.inputs[0])
        high = image(tree, self.save(picture.height / 4 + 0.5, "ground_height.png"), "Non-Color", "REPEAT")
        bump(tree, shader, high.outputs["Color"], picture.bump_mm * 2 * M, 0.7)
        self.stain(tree, colour, shader)
        keep = self.keep_flat()
        if scene.ground == "tarpaulin":
            grid = np.arange(-3500.0, 3501, 14)
        else:
            grid = np.array([-9000.0, 9000.0])
        x, y = np.meshgrid(grid, grid)
        flat = np.column_stack([x.ravel(), y.ravel()])
        z = np.zeros(len(flat))
        if scene.ground == "tarpaulin":
            z = grounds.wrinkles(flat, shapely.distance(shapely.points(flat), keep), self.rng)
        side = len(grid)
        index = np.arange((side - 1) * side).reshape(side - 1, side)[:, : side - 1].ravel()
        quads = np.column_stack([index, index + 1, index + side + 1, index + side])
        turn = self.rng.normal(0, 0.3)
        uv = flat @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) / picture.tile_mm + 50
        mesh("ground", np.column_stack([flat, z]), quads, made, uv=uv, smooth=True)
        if scene.ground in ("grass", "gravel"):
            self.scatter(keep)

    def stain(self, tree, colour, shader):
        """Large soft patches, so that the repeats of the picture do not show."""
        patches = tree.nodes.new("ShaderNodeTexNoise")
        patches.inputs["Scale"].default_value = 1.1
        patches.inputs["Detail"].default_value = 3
        coordinates = tree.nodes.new("ShaderNodeTexCoord")
        tree.links.new(coordinates.outputs["Object"], patches.inputs["Vector"])
        mix = tree.nodes.new("ShaderNodeMix")
        mix.data_type, mix.blend_type = "RGBA", "SOFT_LIGHT"
        mix.inputs["Factor"].default_value = 0.08 if self.scene.ground == "tarpaulin" else 0.7
        tree.links.new(colour.outputs["Color"], mix.inputs[6])
        tree.links.new(patches.outputs["Fac"], mix.inputs[7])
        tree.links.new(mix.outputs[2], shader.inputs[0])

    def keep_flat(self):
        """Where nothing may stand up: under slab, cards and things."""
        scene, shapes = self.scene, []
        for skirt in self.built.skirts:
            for row in skirt.points[::3]:
                shapes.append(shapely.Polygon(lay.slab_to_world(row, scene.lie, scene.slab)[:, :2]).buffer(0))
        for card in scene.cards:
            if card.on == "floor":
                shapes.append(shapely.Polygon(lay.card_to_world(card, scale_card.outline(), scene.lie, scene.slab)[:, :2]))
        return shapely.union_all(shapes)

    def scatter(self, keep):
        """Blades of grass or loose stones, never where they would hide a card or lie on the slab."""
        scene = self.scene
        dense = 260_000 if scene.ground == "grass" else 30_000
        places = self.rng.uniform(-1, 1, (dense, 2)) * [2300, 1900]
        clear = keep.buffer(3)
        for card in scene.cards:
            if card.on == "floor":
                paper = shapely.Polygon(lay.card_to_world(card, scale_card.outline(), scene.lie, scene.slab)[:, :2])
                clear = clear.union(paper.buffer(45 if scene.ground == "grass" else 12))
        shapely.prepare(clear)
        places = places[~shapely.contains_xy(clear, places[:, 0], places[:, 1])]
        make = grounds.blades if scene.ground == "grass" else grounds.pebbles
        vertices, triangles, tint = make(places, self.rng)
        made, tree, shader = material("scatter")
        attribute = tree.nodes.new("ShaderNodeAttribute")
        attribute.attribute_name = "tint"
        tree.links.new(attribute.outputs["Color"], shader.inputs[0])
        mesh("scatter", vertices, triangles, made, tint=tint, smooth=scene.ground == "gravel")

    def light(self):
        scene = self.scene
        world = bpy.data.worlds.new("sky")
        bpy.context.scene.world = world
        world.use_nodes = True
        background = world.node_tree.nodes["Background"]
        azimuth, elevation = scene.sun_rad
        to_sun = np.array([np.cos(azimuth) * np.cos(elevation), np.sin(azimuth) * np.cos(elevation), np.sin(elevation)])
        if scene.light == "overcast":
            background.inputs["Color"].default_value = (0.93, 0.97, 1.0, 1)
            background.inputs["Strength"].default_value = 1.0
            self.sun(to_sun, 1.2, 0.9, (1, 1, 1))
        elif scene.light == "sun":
            background.inputs["Color"].default_value = (0.62, 0.78, 1.0, 1)
            background.inputs["Strength"].default_value = 0.55
            self.sun(to_sun, 3.6, 0.0093, (1.0, 0.93, 0.82))
            if scene.shadow:
                self.shadow(to_sun)
        else:
            background.inputs["Color"].default_value = (0.9, 0.9, 1.0, 1)
            background.inputs["Strength"].default_value = 0.18
            self.area((-1.4, 0.6, 3.9), (1.3, 0.25), 95, (1.0, 0.93, 0.82))
            self.area((1.5, -0.3, 3.9), (1.3, 0.25), 95, (1.0, 0.95, 0.86))
            self.area((5.5, 2.5, 1.8), (2.5, 2.2), 160, (0.85, 0.93, 1.0), (0, np.radians(90), np.radians(20)))

    def sun(self, to_sun, strength, angle, colour):
        data = bpy.data.lights.new("sun", "SUN")
        data.energy, data.angle, data.color = strength, angle, colour
        lamp = bpy.data.objects.new("sun", data)
        lamp.rotation_euler = Vector(to_sun).to_track_quat("Z", "Y").to_euler()
        bpy.context.scene.collection.objects.link(lamp)

    def area(self, place, size, watts, colour, turn=(0, 0, 0)):
        data = bpy.data.lights.new("lamp", "AREA")
        data.shape, data.size, data.size_y = "RECTANGLE", *size
        data.energy, data.color = watts, colour
        lamp = bpy.data.objects.new("lamp", data)
        lamp.location, lamp.rotation_euler = place, turn
        bpy.context.scene.collection.objects.link(lamp)

    def shadow(self, to_sun):
        """Something above and outside the frame, a pole or the edge of a roof, whose hard shadow lies on the slab."""
        aim = np.array([self.scene.lie.x_mm + self.rng.uniform(-0.3, 0.3) * self.scene.slab.length_mm, self.scene.lie.y_mm, 0])
        centre = aim + to_sun * (max(2900, self.scene.camera.height_mm + 250) / to_sun[2])
        across = np.arctan2(to_sun[1], to_sun[0])
        if self.rng.random() < 0.5:
            self.box("pole", centre[0], centre[1], across + self.rng.uniform(-0.6, 0.6), (9000, self.rng.uniform(70, 160), 90), centre[2], (0.1, 0.1, 0.1))
        else:
            turn = self.rng.uniform(0, 2 * np.pi)
            shift = np.array([np.cos(turn), np.sin(turn)]) * 2500
            self.box("roof", centre[0] + shift[0], centre[1] + shift[1], turn, (5000, 9000, 60), centre[2], (0.1, 0.1, 0.1))


def material(name, roughness=None):
    """A new surface; returns it, its node tree and its shader: matt (and quick to trace) where no roughness is given."""
    made = bpy.data.materials.new(name)
    made.use_nodes = True
    tree = made.node_tree
    shader = tree.nodes["Principled BSDF"]
    if roughness is None:
        tree.nodes.remove(shader)
        shader = tree.nodes.new("ShaderNodeBsdfDiffuse")
        tree.links.new(shader.outputs[0], tree.nodes["Material Output"].inputs["Surface"])
    else:
        shader.inputs["Roughness"].default_value = roughness
        shader.inputs["Specular IOR Level"].default_value = 0.35
    return made, tree, shader


def image(tree, path, space, extension="EXTEND"):
    """A picture node."""
    node = tree.nodes.new("ShaderNodeTexImage")
    node.image = bpy.data.images.load(path)
    node.image.colorspace_settings.name = space
    node.extension, node.interpolation = extension, "Linear"
    return node


def bump(tree, shader, height, distance, strength):
    """Fine relief by the shading normal only: it moves nothing."""
    node = tree.nodes.new("ShaderNodeBump")
    node.inputs["Distance"].default_value, node.inputs["Strength"].default_value = distance, strength
    tree.links.new(height, node.inputs["Height"])
    tree.links.new(node.outputs["Normal"], shader.inputs["Normal"])


def mesh(name, vertices_mm, faces, surface, uv=None, tint=None, smooth=False):
    """A mesh object from world points (n, 3) mm and faces (m, 3 or 4), with uv (n, 2) or tint (n, 3) per vertex."""
    faces = np.asarray(faces)
    data = bpy.data.meshes.new(name)
    data.vertices.add(len(vertices_mm))
    data.vertices.foreach_set("co", (np.asarray(vertices_mm) * M).astype(np.float32).ravel())
    data.loops.add(faces.size)
    data.loops.foreach_set("vertex_index", faces.astype(np.int32).ravel())
    data.polygons.add(len(faces))
    data.polygons.foreach_set("loop_start", np.arange(0, faces.size, faces.shape[1], dtype=np.int32))
    if uv is not None:
        layer = data.uv_layers.new(name="uv")
        layer.data.foreach_set("uv", np.asarray(uv)[faces.ravel()].astype(np.float32).ravel())
    if tint is not None:
        layer = data.attributes.new("tint", "FLOAT_COLOR", "POINT")
        layer.data.foreach_set("color", np.column_stack([tint, np.ones(len(tint))]).astype(np.float32).ravel())
    data.update(calc_edges=True)
    data.validate()
    if smooth:
        data.polygons.foreach_set("use_smooth", np.ones(len(faces), bool))
    made = bpy.data.objects.new(name, data)
    data.materials.append(surface)
    bpy.context.scene.collection.objects.link(made)
    return made
