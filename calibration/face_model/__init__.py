"""Our own generator of flat views with exact labels, and the recipe that trains `grainlog/face/face_model.onnx` on them.

Development only: nothing in the package imports it. See MODEL_CARD.md.
"""
