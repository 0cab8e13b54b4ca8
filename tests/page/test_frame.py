"""What stands around every view."""

from __future__ import annotations

import re

import pytest

from pricing.page.rendering import Frame, environment


@pytest.mark.parametrize(
    ("metal_of", "whole"),
    [
        ("metal of 2026-11-20", ["GBP · metal of 2026-11-20"]),
        ("metal of 2026-11-20 (in force on 2026-11-27)", ["GBP · metal of 2026-11-20", "(in force on 2026-11-27)"]),
    ],
)
def test_the_day_breaks_between_what_it_says_and_never_in_a_date(metal_of, whole):
    frame = Frame("metal", "Metal", "Fernhollow Castings", "2026-11-27", metal_of, "GBP")
    head = environment().get_template("frame.html").render(frame=frame)
    day = head[head.index('<p class="day">') : head.index("<button", head.index('<p class="day">'))]
    wholes = re.split(r'<span class="whole(?: of)?">', day)[1:]
    assert [re.sub("<[^>]*>", "", each).strip() for each in wholes] == whole
