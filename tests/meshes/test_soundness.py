"""The hazards of meshes, one by one: what is said, and whether such a mesh is priced."""

import math

import numpy as np
import pytest
import trimesh

from pricing.meshes import MeshFault, holes, measure, solid, soundness, volume_and_area, welding
from tests.meshes import shapes
from tests.meshes.boxes import box, inside_out, stl

HOLE_IN_A_BOX = (
    "it has a hole 14.1 mm wide near x 5.0, y 5.0, z 0.0 mm (4 open edges), and its volume is not certain by "
    "0.471 cm³. Fill the holes in the modelling program, or state volume_cm3 in place of the mesh."
)


def refused(path, *, thorough=True):
    with pytest.raises(MeshFault) as caught:
        volume_and_area(path, thorough=thorough)
    return [fault.problem for fault in caught.value.faults]


def test_a_sound_box(tmp_path):
    measured = measure(stl(tmp_path, box(10)))
    assert measured.sound and measured.priceable and measured.bodies == 1
    assert measured.volume_cm3 == pytest.approx(10**3 / 1000, rel=1e-12)
    assert measured.area_cm2 == pytest.approx(6 * 10**2 / 100, rel=1e-12)
    assert measured.extent_mm == (10, 10, 10)
    assert measured.second_volume_cm3 == pytest.approx(1, rel=1e-9)


@pytest.mark.parametrize("at", [(0, 0, 0), (5000, 0, 0), (-300, 20, 77)])
def test_a_missing_side_wherever_the_box_lies(tmp_path, at):
    """Without its floor, 10² mm² and 14.14 mm across, over which a half-ball would be 10² · 14.14 / 3 = 471 mm³."""
    path = stl(tmp_path, box(10, at)[2:])
    measured = measure(path)
    x, y, z = at
    assert measured.faults == (HOLE_IN_A_BOX.replace("x 5.0, y 5.0, z 0.0", f"x {x + 5}.0, y {y + 5}.0, z {z}.0"),)
    assert measured.volume_cm3 == pytest.approx(1, rel=1e-6)  # as if closed flat
    assert len(refused(path)) == 1
    assert len(refused(path, thorough=False)) == 1


def test_a_tube_open_at_both_ends_is_seen_without_a_close_look(tmp_path):
    """The sum of its area vectors is nought; the volumes by x and by z differ."""
    path = stl(tmp_path, box(10)[4:])
    assert measure(path, thorough=False).faults == (
        "its surface is not closed, or some faces point the wrong way, so its volume depends on where it lies. "
        "Close the holes and turn the faces outwards, or state volume_cm3 in place of the mesh.",
    )
    assert "2 holes" in measure(path).faults[0]


def test_a_tiny_hole_is_told_and_priced_as_if_closed(tmp_path):
    """One of 1,280 triangles of a ball is missing, about 1,257 mm² / 1,280 = 1 mm² and 1.7 mm across, over which a
    half-ball would be about 0.6 mm³ of 4,153; a flat lid over it is the very triangle."""
    ball = trimesh.creation.icosphere(subdivisions=3, radius=10)
    path = stl(tmp_path, np.asarray(ball.triangles)[1:])
    measured = measure(path)
    missing = ball.triangles[0] - ball.triangles[0].mean(axis=0)
    doubt = ball.area_faces[0] * 2 * np.linalg.norm(missing, axis=1).max() / 3
    assert not measured.sound and measured.priceable
    assert f"its volume is certain but for {doubt:.2g} mm³: priced as if closed flat" in measured.faults[0]
    assert 0.4 < doubt < 0.8
    assert volume_and_area(path).volume_cm3 == pytest.approx(ball.volume / 1000, rel=1e-6)


def test_a_hole_around_the_middle(tmp_path):
    """Three sides that meet in a corner: the rim's middle is the box's, and flat lids would halve the box."""
    assert len(refused(stl(tmp_path, box(10)[[0, 1, 4, 5, 8, 9]]))) == 1


def test_holes_that_the_sums_cannot_see(tmp_path):
    """Like holes in the middle of all six sides: only the close look finds them, and so they are documented here."""
    grid = [(column, row) for column in range(3) for row in range(3) if (column, row) != (1, 1)]
    sides = []
    for side in range(0, 12, 2):
        origin, right, up = box(3)[side, 0], box(3)[side, 1] - box(3)[side, 0], box(3)[side + 1, 2] - box(3)[side, 0]
        for column, row in grid:
            one, two, three, four = (
                origin + right * (column + right_step) / 3 + up * (row + up_step) / 3
                for right_step, up_step in ((0, 0), (1, 0), (1, 1), (0, 1))
            )
            sides += [[one, two, three], [one, three, four]]
    path = stl(tmp_path, np.array(sides))
    assert measure(path, thorough=False).sound
    assert measure(path).faults[0].startswith("it has 6 holes, the widest 1.4 mm wide")
    assert len(refused(path)) == 1


def test_inside_out_as_a_whole_is_told_and_priced(tmp_path):
    path = stl(tmp_path, inside_out(box(10)))
    for thorough in (True, False):
        measured = measure(path, thorough=thorough)
        assert measured.faults == (
            "it is inside out: all its faces point inwards; measured as if turned outwards. "
            "Turn the normals outwards in the modelling program.",
        )
        assert measured.volume_cm3 == pytest.approx(1) and measured.priceable


def test_one_face_turned(tmp_path):
    triangles = box(10)
    triangles[5] = triangles[5][::-1]
    path = stl(tmp_path, triangles)
    assert refused(path) == refused(path, thorough=False) == measured_problems(path)
    assert refused(path)[0].startswith("some of its faces are inside out: along 3 edges neighbours face opposite ways")


def measured_problems(path):
    return [problem for problem, _ in measure(path).grave]


def test_a_face_turned_beside_a_hole(tmp_path):
    triangles = box(10)[1:]
    triangles[6] = triangles[6][::-1]
    problems = refused(stl(tmp_path, triangles))
    assert len(problems) == 2
    assert problems[0].startswith("some of its faces are inside out")
    assert problems[1].endswith("and its volume is not certain")


def test_three_faces_at_an_edge(tmp_path):
    fin = np.array([[[0, 0, 0], [10, 0, 0], [5, -5, 0]]])
    path = stl(tmp_path, box(10), fin)
    assert refused(path)[0] == (
        "three or more faces meet at one edge (near x 5.0, y 0.0, z 0.0 mm), so inside and outside cannot be told apart"
    )


def test_overlapping_boxes(tmp_path):
    """10³ + 10³, of which 5 · 10 · 10 are counted twice."""
    path = stl(tmp_path, box(10), box(10, at=(5, 0, 0)))
    measured = measure(path)
    assert measured.faults == (
        "bodies overlap by 0.500 cm³, and that space is counted twice; its two volumes differ: 2.000 cm³ by its faces, "
        "1.500 cm³ by its slices. Join them into one body (boolean union), or state volume_cm3 in place of the mesh.",
    )
    assert measured.volume_cm3 == pytest.approx(2) and measured.second_volume_cm3 == pytest.approx(1.5)
    assert not measured.priceable and len(refused(path)) == 1


def test_an_overlap_below_a_hundredth_is_told_and_priced(tmp_path):
    """0.1 of 10 mm deep: 10 mm³ of 2,000, a half of a hundredth."""
    measured = measure(stl(tmp_path, box(10), box(10, at=(9.9, 0, 0))))
    assert measured.faults[0].startswith("bodies overlap by 10 mm³")
    assert measured.priceable and not measured.sound


def test_a_thin_overlap_is_found_whichever_way_it_lies(tmp_path):
    """Two plates 30 × 30 × 1 that share 0.2 of their thickness: 180 of 1,800 mm³."""
    for axis in range(3):
        size, step = np.full(3, 30.0), np.zeros(3)
        size[axis], step[axis] = 1, 0.8
        plate = box(1) * size
        assert refused(stl(tmp_path, plate, plate + step))[0].startswith("bodies overlap by 0.180 cm³")


def test_a_body_within_a_body(tmp_path):
    path = stl(tmp_path, box(20), box(10, at=(5, 5, 5)))
    assert refused(path) == [
        "one of its bodies lies inside another, and that space is counted twice; its two volumes differ: 9.000 cm³ by "
        "its faces, 8.000 cm³ by its slices"
    ]


def test_the_same_body_twice(tmp_path):
    assert refused(stl(tmp_path, box(10), box(10)))[0].startswith("one of its bodies lies inside another")


def test_a_closed_hollow(tmp_path):
    """20³ − 10³ = 7,000 mm³ is the wall; metal would fill the 1,000 mm³ inside."""
    path = stl(tmp_path, box(20), inside_out(box(10, at=(5, 5, 5))))
    measured = measure(path)
    assert measured.faults == (
        "it has a closed hollow of 1.000 cm³ inside; the volume is that of the wall alone, but no investment gets into "
        "it and the metal would fill it. Delete the inner faces or open the hollow to the outside, or state volume_cm3 "
        "in place of the mesh.",
    )
    assert measured.volume_cm3 == pytest.approx(7) and measured.second_volume_cm3 == pytest.approx(7)
    assert not measured.priceable


def test_a_hollow_is_told_beside_an_overlap_and_an_inverted_body(tmp_path):
    """The wall of 7,000 mm³ and a box that is a millimetre deep in it: 100 mm³ twice. In the second file a small box
    that is inside out stands apart: 3³ = 27 mm³."""
    hollow = np.concatenate([box(20), inside_out(box(10, at=(5, 5, 5)))])
    problems = refused(stl(tmp_path, hollow, box(10, at=(19, 0, 0))))
    assert problems[0].startswith("it has a closed hollow of 1.000 cm³ inside")
    assert problems[1].startswith("bodies overlap by 0.100 cm³")
    measured = measure(stl(tmp_path, hollow, inside_out(box(3, at=(30, 0, 0)))))
    assert measured.faults[0].startswith("it has a closed hollow of 1.000 cm³ inside")
    assert measured.faults[1].startswith("at least one of its bodies is inside out")


def test_one_of_two_bodies_inside_out(tmp_path):
    path = stl(tmp_path, box(10), inside_out(box(5, at=(20, 0, 0))))
    assert refused(path) == [
        "1 of its 2 bodies is inside out; its two volumes differ: 0.875 cm³ by its faces, 1.000 cm³ by its slices"
    ]


def test_the_larger_of_two_bodies_inside_out(tmp_path):
    """10³ inwards and 5³ outwards: their sum is negative, and yet not all faces point inwards."""
    path = stl(tmp_path, inside_out(box(10)), box(5, at=(20, 0, 0)))
    assert refused(path) == [
        "1 of its 2 bodies is inside out; its two volumes differ: 0.875 cm³ by its faces, 1.000 cm³ by its slices"
    ]


def test_all_of_two_bodies_inside_out(tmp_path):
    measured = measure(stl(tmp_path, inside_out(box(10)), inside_out(box(5, at=(20, 0, 0)))))
    assert measured.volume_cm3 == pytest.approx(1.125) and measured.priceable
    assert [fault.split(";")[0] for fault in measured.faults] == ["it is inside out: all its faces point inwards"]


def test_many_bodies_are_told_apart_like_few(tmp_path):
    """125 boxes of side 2; one inside out takes its 8 mm³ away by the faces, and adds none by the slices."""
    places = [(3.0 * x, 3.0 * y, 3.0 * z) for x in range(5) for y in range(5) for z in range(5)]
    boxes = [box(2, at=place) for place in places]
    measured = measure(stl(tmp_path, *boxes))
    assert (measured.bodies, measured.faults, measured.volume_cm3) == (125, (), pytest.approx(1.0))
    boxes[60] = inside_out(boxes[60])
    assert (
        measure(stl(tmp_path, *boxes))
        .faults[0]
        .startswith(
            "1 of its 125 bodies is inside out; its two volumes differ: 0.984 cm³ by its faces, 0.992 cm³ by its slices"
        )
    )


def test_separate_bodies_are_counted_together(tmp_path):
    measured = measure(stl(tmp_path, box(10), box(5, at=(20, 0, 0)), box(5, at=(30, 0, 0))))
    assert measured.sound and measured.bodies == 3
    assert measured.volume_cm3 == pytest.approx((1000 + 125 + 125) / 1000)
    assert "it has 3 separate bodies, counted together" in measured.remarks


def test_boxes_that_touch_along_an_edge_or_at_a_corner_are_sound(tmp_path):
    for at in ((10, 10, 0), (10, 10, 10)):
        measured = measure(stl(tmp_path, box(10), box(10, at)))
        assert measured.sound and measured.volume_cm3 == pytest.approx(2)


def test_a_ring_twisted_into_an_eight(tmp_path):
    """One loop of its profile runs the other way round, so that its space is taken away."""
    twisted = shapes.turned([(5, 0), (9, 4), (9, 0), (5, 4.8)], 24)
    problems = refused(stl(tmp_path, twisted.corners))
    assert problems[-1].startswith("its surface passes through itself, and some space is taken away")


def test_a_wall_that_doubles_back_through_itself(tmp_path):
    """Its profile covers rho 7 to 9, z 0 to 3 twice: a ring of 2 · A · 6 · 8 mm³, with A = 12 · sin(15°) for 24 sides
    on a circle of radius 1 and 8 mm the middle of its 6 mm²."""
    doubled = shapes.turned([(5, 0), (11, 0), (11, 4), (7, 4), (7, -2), (9, -2), (9, 3), (5, 3)], 24)
    path = stl(tmp_path, doubled.corners)
    measured = measure(path)
    twice = 2 * 12 * math.sin(math.radians(15)) * 6 * 8 / 1000
    assert measured.volume_cm3 == pytest.approx(doubled.closed_form_cm3, rel=1e-6)
    assert measured.second_volume_cm3 == pytest.approx(doubled.closed_form_cm3 - twice, rel=1e-3)
    assert refused(path)[0].startswith("its surface passes through itself, and some space is counted twice")


def test_cracks_finer_than_a_hair_are_closed(tmp_path):
    """Every triangle of a ball moved by itself, by up to a ten-thousandth of a millimetre."""
    ball = np.asarray(trimesh.creation.icosphere(subdivisions=3, radius=10).triangles)
    shaken = ball + np.random.default_rng(7).uniform(-1e-4, 1e-4, (len(ball), 1, 3))
    measured = measure(stl(tmp_path, shaken))
    assert measured.sound
    assert "cracks finer than a hair between its faces were closed" in measured.remarks


def test_a_flat_sheet(tmp_path):
    path = stl(tmp_path, box(10)[:2])
    for thorough in (True, False):
        assert measure(path, thorough=thorough).faults[-1].startswith("it encloses no volume")


def test_triangles_without_area_do_no_harm(tmp_path):
    needle = np.zeros((1, 3, 3))
    assert measure(stl(tmp_path, box(10), needle)).sound
    assert refused(stl(tmp_path, needle, needle)) == ["it encloses no volume"]


def test_points_with_one_key_are_still_told_apart(tmp_path, monkeypatch):
    """With a multiplier of nought every point that shares its z has the same key."""
    monkeypatch.setattr(welding, "HASH_MULTIPLIER", np.uint64(0))
    assert measure(stl(tmp_path, box(10))).sound


def test_a_mesh_in_shreds(tmp_path, monkeypatch):
    """More open edges than are followed: all of them are told as one hole, from corner to corner 10 · √3 mm."""
    monkeypatch.setattr(holes, "MOST_RIM_EDGES", 7)
    problems = refused(stl(tmp_path, box(10)[4:]))
    assert problems[0].startswith("it has a hole 17.3 mm wide near x 5.0, y 5.0, z 5.0 mm (8 open edges)")


def test_more_overlapping_bodies_than_are_paired(tmp_path):
    """25 boxes in a row, each a tenth into the next: 24 · 100 of 25,000 mm³ are counted twice."""
    path = stl(tmp_path, *[box(10, at=(9 * number, 0, 0)) for number in range(25)])
    assert refused(path)[0].startswith("bodies overlap, and that space is counted twice")
    assert measure(path).second_volume_cm3 == pytest.approx(25 - 2.4, rel=1e-3)


def test_a_second_look_that_fails_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(soundness, "look_again", lambda surface, volume: "NotManifold")
    assert refused(stl(tmp_path, box(10)), thorough=True) == [
        "its volume cannot be checked a second time (NotManifold)"
    ]


def test_a_surface_that_the_second_look_cannot_take():
    tetrahedron = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    no_number = welding.Surface(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, np.nan]]), tetrahedron)
    assert solid.look_again(no_number, 1.0) == "NonFiniteVertex"
