"""Our own generator of flat views with exact labels, and the recipe that trains the face network on them.

Development only: nothing in the package imports it. See MODEL_CARD.md.
"""
