"""Volume, surface and extent against closed forms and against trimesh, and what moving a mesh must not change."""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.meshes.figures import figures
from pricing.meshes.soundness import judge
from tests.meshes import shapes
from tests.meshes.boxes import box, inside_out

EVERY_SHAPE = [pytest.param(shape_of(), id=name) for name, shape_of in shapes.SHAPES.items()]


def test_a_box():
    sums = figures(box(10, at=(3, 4, 5)))
    assert sums.volume == pytest.approx(10**3, rel=1e-12)
    assert sums.area == pytest.approx(6 * 10**2, rel=1e-12)
    assert sums.extent.tolist() == [10, 10, 10]
    assert sums.low.tolist() == [3, 4, 5]
    assert sums.openness() < 1e-12


def test_many_blocks_are_one_sum():
    """1,500 boxes of 12 triangles are 18,000, more than a block; side 1 each, 2 apart."""
    triangles = np.concatenate([box(1, at=(2 * number, 0, 0)) for number in range(1500)])
    sums = figures(triangles)
    assert sums.volume == pytest.approx(1500, rel=1e-12)
    assert sums.area == pytest.approx(1500 * 6, rel=1e-12)
    assert sums.extent.tolist() == [2 * 1499 + 1, 1, 1]


@pytest.mark.parametrize("shape", EVERY_SHAPE)
def test_the_closed_form(shape):
    verdict = judge(shape.corners)
    assert figures(shape.corners).volume / 1000 == pytest.approx(shape.closed_form_cm3, rel=1e-12)
    assert verdict.volume / 1000 == pytest.approx(shape.closed_form_cm3, rel=1e-12)
    assert verdict.second_volume / 1000 == pytest.approx(shape.closed_form_cm3, rel=0.002)
    assert (verdict.findings, verdict.bodies) == ((), 1)


def test_pappus():
    """A ring of 3 × 2 mm whose middle is 5 mm from the axis: 2 pi · 5 · 6 mm³, and by 36 sides that times
    sin(10°) / (10° in radians)."""
    ring = shapes.turned([(3.5, 0), (6.5, 0), (6.5, 2), (3.5, 2)], 36)
    assert ring.smooth_cm3 == pytest.approx(2 * math.pi * 5 * 6 / 1000, rel=1e-12)
    assert figures(ring.corners).volume == pytest.approx(
        2 * math.pi * 5 * 6 * math.sin(math.radians(10)) / math.radians(10), rel=1e-12
    )


def test_a_cone_by_pappus_is_a_third_of_its_cylinder():
    cone = shapes.turned([(0, 0), (4, 0), (0, 9)], 48)
    assert cone.smooth_cm3 == pytest.approx(math.pi * 4**2 * 9 / 3 / 1000, rel=1e-12)


#: trimesh's shapes → their volume in closed form. A circle of n sides has the area n/2 · r² · sin(2 pi / n).
TRIMESH_SHAPES = {
    "box": (trimesh.creation.box((2, 3, 4)), 2 * 3 * 4),
    "cylinder": (trimesh.creation.cylinder(radius=3, height=5, sections=32), 16 * 9 * math.sin(math.pi / 16) * 5),
    "cone": (trimesh.creation.cone(radius=3, height=5, sections=32), 16 * 9 * math.sin(math.pi / 16) * 5 / 3),
    "annulus": (
        trimesh.creation.annulus(r_min=2, r_max=3, height=5, sections=32),
        16 * (9 - 4) * math.sin(math.pi / 16) * 5,
    ),
    "tetrahedron": (trimesh.creation.icosahedron().convex_hull, None),
    "icosphere": (trimesh.creation.icosphere(subdivisions=3, radius=7), None),
    "uv sphere": (trimesh.creation.uv_sphere(radius=7, count=[24, 24]), None),
    "capsule": (trimesh.creation.capsule(height=6, radius=2), None),
    "torus": (trimesh.creation.torus(major_radius=9, minor_radius=2), None),
}


@pytest.mark.parametrize("name", TRIMESH_SHAPES)
def test_trimesh_shapes(name):
    """Where the closed form of the faceted solid is not at hand, trimesh's own figure stands in for it."""
    mesh, closed_form = TRIMESH_SHAPES[name]
    verdict = judge(np.asarray(mesh.triangles, float))
    assert verdict.findings == ()
    assert verdict.volume == pytest.approx(closed_form if closed_form is not None else mesh.volume, rel=1e-9)
    assert figures(mesh.triangles).area == pytest.approx(mesh.area, rel=1e-9)


@st.composite
def rotations(draw):
    """Rotation matrices, from quaternions."""
    part = st.floats(-1, 1)
    quaternion = np.array(draw(st.tuples(part, part, part, part).filter(lambda four: np.linalg.norm(four) > 0.1)))
    w, x, y, z = quaternion / np.linalg.norm(quaternion)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


MOVES = st.tuples(*[st.floats(-1000, 1000)] * 3).map(np.array)


@given(turn=rotations(), move=MOVES)
def test_moving_and_turning_change_neither_volume_nor_surface(turn, move):
    still = shapes.button()
    sums = figures(still.corners @ turn.T + move)
    assert sums.volume / 1000 == pytest.approx(still.closed_form_cm3, rel=1e-9)
    assert sums.area == pytest.approx(figures(still.corners).area, rel=1e-9)
    assert sums.openness() < 1e-8


@settings(max_examples=30)
@given(turn=rotations(), move=MOVES)
def test_the_verdict_does_not_hang_on_where_a_mesh_lies(turn, move):
    still = shapes.thimble()
    verdict = judge(still.corners @ turn.T + move)
    assert verdict.findings == ()
    assert verdict.volume / 1000 == pytest.approx(still.closed_form_cm3, rel=1e-9)


@settings(max_examples=30)
@given(turn=rotations(), move=MOVES)
def test_nor_does_what_is_found_wrong(turn, move):
    """Two boxes of 1,000 mm³ that share 250 mm³: 5 of 10 one way, 5 of 10 another."""
    verdict = judge(np.concatenate([box(10), box(10, at=(5, 5, 0))]) @ turn.T + move)
    assert [finding.grave for finding in verdict.findings] == [True]
    assert verdict.findings[0].problem.startswith("bodies overlap by 0.250 cm³")
    assert verdict.volume == pytest.approx(2000, rel=1e-9)
    assert verdict.second_volume == pytest.approx(1750, rel=0.005)


@given(scale=st.floats(0.01, 100))
def test_twice_as_long_is_eight_times_the_volume(scale):
    still = shapes.beetle_pin()
    sums = figures(still.corners * scale)
    assert sums.volume / 1000 == pytest.approx(still.closed_form_cm3 * scale**3, rel=1e-9)


def test_inside_out_is_the_same_volume_below_nought():
    assert figures(inside_out(box(10))).volume == pytest.approx(-(10**3), rel=1e-12)
