"""The small network that says where checks are: how it was trained (recipe, data, figures)."""
