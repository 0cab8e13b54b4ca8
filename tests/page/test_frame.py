"""What stands around every view."""

from __future__ import annotations

import re

import pytest

from pricing.page.rendering import Frame, days, environment


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


def test_a_day_in_a_sentence_is_whole_and_what_the_sentence_says_is_text():
    assert days("from 2026-06-01, or <2026-11-20>") == (
        'from <span class="whole">2026-06-01</span>, or &lt;<span class="whole">2026-11-20</span>&gt;'
    )
    assert days("batch-2026-11-20 of 12026-11-20") == "batch-2026-11-20 of 12026-11-20"  # no days
