"""What the log teaches, on the page: shown figure by figure, accepted one by one, never on figures that moved."""

from __future__ import annotations

import re
from shutil import copytree

import pytest

from pricing.batches.adding import write_card
from tests.learning.harbour import AS_OF, card, flask, write_folder, write_log
from tests.page.served import Served

MINUTES = "processes.cast.file.minutes"


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    """Harbour Lane with its autumn's log, to be looked at or copied."""
    root = write_folder(tmp_path_factory.mktemp("harbour"))
    write_log(root)
    return root


def marks(text: str) -> dict[str, str]:
    """The mark of each figure that can be accepted, by its name."""
    return dict(re.findall(r'name="name" value="([^"]+)"><input type="hidden" name="mark" value="([0-9a-f]+)"', text))


def test_it_is_shown_and_accepted_figure_by_figure(root, tmp_path):
    own = copytree(root, tmp_path / "harbour")
    with Served(own, as_of=AS_OF) as served:
        assert 'hx-get="' in served.get("/log").text and "/log/learned" in served.get("/log").text
        shown = served.get("/log/learned")
        assert f"cast, file: minutes each time {MINUTES}" in shown.words
        assert "stated 5; seen 7 in 9 batches; now 6.7" in shown.words
        found = marks(shown.text)
        assert {MINUTES, "products.clasp.sprue_ratio", "*"} < set(found)
        assert served.post("/log/learned", {"name": MINUTES, "mark": "0" * 32}).status == 409
        assert not (own / "doubts.toml").exists()
        taken = served.post("/log/learned", {"name": MINUTES, "mark": found[MINUTES]})
        assert (taken.status, taken.headers["location"].endswith("/log/learned")) == (303, True)
        assert "minutes = 6.7" in (own / "processes.toml").read_text()
        after = served.get("/log/learned")
        assert "cast, file: minutes each time, is 6.7 now" in after.words and MINUTES not in marks(after.text)

        write_card(own, card(0, [flask("hook", "brass", 10)]), "GBP")  # one more batch: what was shown is stale
        assert served.post("/log/learned", {"name": "*", "mark": marks(after.text)["*"]}).status == 409
        served.post("/log/learned", {"name": "*", "mark": marks(served.get("/log/learned").text)["*"]})
        assert "figures are written" in served.get("/log").words
        assert "batch = 11" in (own / "doubts.toml").read_text()
