"""The scene in the path tracer: the only folder that needs bpy (Blender's Cycles as a Python module, CPU).

Everything that decides where something is comes from `solid`, `lay` and `optics`; here it is only shown.
"""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix

from .. import optics, solid, wood
from ..scene import Scene
from .around import put_stickers, put_thing
from .ground import put_ground
from .light import put_light
from .nodes import M
from .slab import Stage, put_card, put_slab


@dataclass(frozen=True)
class Effort:
    """How much light is traced: samples a pixel at most, threshold of the adaptive sampling, bounces, threads."""

    samples: int = 20
    threshold: float = 0.08
    bounces: int = 3
    threads: int = 2


def trace(
    scene: Scene,
    built: solid.Solid,
    seen: optics.View,
    overscan: float,
    textures: Path | None,
    effort: Effort,
    picture: wood.FacePicture | None = None,
) -> np.ndarray:
    """Trace `scene`: (h, w, 3) float32 linear light of a pinhole with the focal length of `seen`.

    `picture` is the painted face where it is not simply `wood.paint`. The principal point is in the middle; the picture is
    `overscan` times as wide and high as the photo.
    """
    bpy.ops.wm.read_factory_settings(use_empty=True)
    with tempfile.TemporaryDirectory() as folder:
        stage = Stage(scene, built, Path(folder), np.random.default_rng(scene.seed + 31), picture)
        put_slab(stage)
        for card in scene.cards:
            put_card(stage, card)
        for thing in scene.clutter:
            put_thing(stage, thing)
        put_stickers(stage)
        put_ground(stage, textures)
        put_light(stage)
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
    cycles.use_denoising, cycles.denoiser, cycles.denoising_input_passes = (
        True,
        "OPENIMAGEDENOISE",
        "RGB_ALBEDO_NORMAL",
    )
    cycles.denoising_prefilter, cycles.denoising_quality = "FAST", "FAST"
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
