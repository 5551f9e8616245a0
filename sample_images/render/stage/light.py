"""Daylight, sun with a hard shadow, or the lamps of a shed."""

import bpy
import numpy as np
from mathutils import Vector

from .around import box
from .slab import Stage


def put_light(stage: Stage):
    """Sky and lamps of the scene, and whatever throws its shadow across the slab."""
    scene = stage.scene
    world = bpy.data.worlds.new("sky")
    bpy.context.scene.world = world
    world.use_nodes = True
    background = world.node_tree.nodes["Background"]
    azimuth, elevation = scene.sun_rad
    to_sun = np.array([np.cos(azimuth) * np.cos(elevation), np.sin(azimuth) * np.cos(elevation), np.sin(elevation)])
    if scene.light == "overcast":
        background.inputs["Color"].default_value = (0.93, 0.97, 1.0, 1)
        background.inputs["Strength"].default_value = 1.0
        _sun(to_sun, 1.2, 0.9, (1, 1, 1))
    elif scene.light == "sun":
        background.inputs["Color"].default_value = (0.62, 0.78, 1.0, 1)
        background.inputs["Strength"].default_value = 0.55
        _sun(to_sun, 3.6, 0.0093, (1.0, 0.93, 0.82))
        if scene.shadow:
            _shadow(stage, to_sun)
    else:
        background.inputs["Color"].default_value = (0.9, 0.9, 1.0, 1)
        background.inputs["Strength"].default_value = 0.18
        _area((-1.4, 0.6, 3.9), (1.3, 0.25), 95, (1.0, 0.93, 0.82))
        _area((1.5, -0.3, 3.9), (1.3, 0.25), 95, (1.0, 0.95, 0.86))
        _area((5.5, 2.5, 1.8), (2.5, 2.2), 160, (0.85, 0.93, 1.0), (0, np.radians(90), np.radians(20)))


def _sun(to_sun, strength, angle, colour):
    data = bpy.data.lights.new("sun", "SUN")
    data.energy, data.angle, data.color = strength, angle, colour
    lamp = bpy.data.objects.new("sun", data)
    lamp.rotation_euler = Vector(to_sun).to_track_quat("Z", "Y").to_euler()
    bpy.context.scene.collection.objects.link(lamp)


def _area(place, size, watts, colour, turn=(0, 0, 0)):
    data = bpy.data.lights.new("lamp", "AREA")
    data.shape, data.size, data.size_y = "RECTANGLE", *size
    data.energy, data.color = watts, colour
    lamp = bpy.data.objects.new("lamp", data)
    lamp.location, lamp.rotation_euler = place, turn
    bpy.context.scene.collection.objects.link(lamp)


def _shadow(stage: Stage, to_sun):
    """Something above and outside the frame, a pole or the edge of a roof, whose hard shadow lies on the slab."""
    along = stage.rng.uniform(-0.3, 0.3) * stage.scene.slab.length_mm
    aim = np.array([stage.scene.lie.x_mm + along, stage.scene.lie.y_mm, 0])
    centre = aim + to_sun * (max(2900, stage.scene.camera.height_mm + 250) / to_sun[2])
    across = np.arctan2(to_sun[1], to_sun[0])
    if stage.rng.random() < 0.5:
        turn = across + stage.rng.uniform(-0.6, 0.6)
        size = (9000, stage.rng.uniform(70, 160), 90)
        box("pole", centre[0], centre[1], turn, size, centre[2], (0.1, 0.1, 0.1))
    else:
        turn = stage.rng.uniform(0, 2 * np.pi)
        shift = np.array([np.cos(turn), np.sin(turn)]) * 2500
        box("roof", centre[0] + shift[0], centre[1] + shift[1], turn, (5000, 9000, 60), centre[2], (0.1, 0.1, 0.1))
