"""The committed scenes by name, and random ones for development.

The scenario is made up: a small club of neighbours who salvage the yard trees that one stormy spring threw down.
"""

import numpy as np

from .scene import FORMS, GROUNDS, LIGHTS, SPECIES, Brief

#: The club's spring: twelve slabs, half of them photographed in a perfect world, half in one that is a little off.
COMMITTED = (
    Brief("walnut-shed-floor", 11, True, "walnut", "concrete", "overcast", (0, 1, 2, 3), (), "plain", True,
          2100, 520, 63.5, 19, 12, 26, clutter=("batten", "boots")),
    Brief("oak-yard-gravel", 22, False, "white oak", "gravel", "sun", (2, 4, 5, 7), (), "flare", True,
          2300, 560, 70, 38, 22, 25, shadow=True, clutter=("bar",)),
    Brief("maple-lawn", 33, True, "sugar maple", "grass", "overcast", (), (6, 7), "plain", True,
          1900, 480, 57, 0, 18, 27),
    Brief("cherry-saw-pit", 44, False, "cherry", "sawdust", "sun", (1, 8, 9), (), "hook", False,
          2000, 400, 51, 25, 28, 26, clutter=("bar", "batten")),
    Brief("elm-crotch", 55, True, "elm", "tarpaulin", "sun", (0, 5, 8), (), "crotch", True,
          2200, 470, 76, 25, 8, 24.5, clutter=("slab",)),
    Brief("ash-plank-floor", 66, False, "ash", "plank", "shed", (3, 6), (), "plain", True,
          2600, 430, 63.5, 19, 16, 24.3, clutter=("boots", "block")),
    Brief("walnut-wet-pole-shadow", 77, True, "walnut", "concrete", "sun", (4, 9), (), "flare", True,
          1800, 540, 70, 25, 34, 26, wet=True, shadow=True, clutter=("bucket",)),
    Brief("oak-wide-side-up", 88, False, "white oak", "grass", "sun", (), (1, 2), "plain", False,
          2400, 600, 76, 0, 24, 26),
    Brief("maple-void", 99, True, "sugar maple", "gravel", "sun", (0, 3, 7, 9), (), "plain", False,
          2000, 560, 63.5, 38, 20, 26, void=True, shadow=True, clutter=("batten",)),
    Brief("cherry-turned-photo", 110, False, "cherry", "tarpaulin", "overcast", (5, 6, 8, 9), (), "crotch", True,
          1900, 450, 57, 19, 14, 27, wet=True, orientation=6, clutter=("bar",)),
    Brief("elm-one-card", 121, True, "elm", "sawdust", "shed", (2,), (), "hook", True,
          1700, 420, 51, 0, 10, 27.5, clutter=("block",)),
    Brief("ash-no-metadata", 132, False, "ash", "concrete", "overcast", (), (0, 4), "flare", False,
          2800, 480, 70, 38, 6, 24.2, void=True, exif=False, clutter=("slab", "batten")),
)


def random_brief(seed: int) -> Brief:
    """A brief drawn from everything we can show."""
    rng = np.random.default_rng(seed + 100_000)
    thickness = float(rng.choice([51, 57, 63.5, 70, 76]))
    layout = rng.choice(["4f", "3f", "2f", "1f", "2s", "1s", "2f1s", "4f1s"], p=[0.25, 0.15, 0.2, 0.08, 0.2, 0.05, 0.04, 0.03])
    floor = int(layout.split("f")[0]) if "f" in layout else 0
    on_slab = int(layout[-2]) if layout.endswith("s") else 0
    ids = [int(i) for i in rng.permutation(10)]
    light = str(rng.choice(LIGHTS, p=[0.4, 0.4, 0.2]))
    form = str(rng.choice(FORMS, p=[0.4, 0.25, 0.2, 0.15]))
    ground = str(rng.choice(GROUNDS))
    kinds = ["batten", "boots", "bar", "block", "slab", "bucket", "batten"]
    clutter = tuple(str(k) for k in rng.permutation(kinds)[: rng.integers(0, 4)])
    return Brief(
        name=f"random-{seed:04d}", seed=seed, perfect=bool(rng.random() < 0.5), species=str(rng.choice(SPECIES)),
        ground="concrete" if light == "shed" and ground in ("grass", "gravel") else ground, light=light,
        floor_cards=tuple(ids[:floor]), slab_cards=tuple(ids[floor : floor + on_slab]),
        form=form, narrow_side_up=bool(rng.random() < 0.6),
        length_mm=float(rng.uniform(1500, 2500)), width_mm=float(rng.uniform(330, 620 if form != "crotch" else 520)),
        thickness_mm=thickness, lift_mm=float(rng.choice([0, 0, 19, 25, 38])),
        oblique_deg=float(rng.choice([3, 10, 18, 26, 34, 40]) + rng.uniform(-3, 0)), focal_35mm=float(rng.uniform(24, 28)),
        wet=bool(rng.random() < 0.3), void=bool(rng.random() < 0.25), shadow=bool(rng.random() < 0.6), clutter=clutter,
    )
