"""Rendered sample photos of slabs with exact truth.

One way, like the rest of the project: a `Brief` (what is wanted) is composed into a `Scene` (plain numbers), built
into polygons and surfaces (numpy), shown to a path tracer (`stage`, the only part that needs bpy), developed as a
phone would (`develop`), and written with its truth (`truth`).
"""
