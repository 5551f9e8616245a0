"""The path tracer's own words: surfaces, pictures, meshes. Lengths go in as metres."""

import bpy
import numpy as np

M = 0.001


def material(name, roughness=None):
    """A new surface, its node tree and its shader: matt (and quick to trace) where no roughness is given."""
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
