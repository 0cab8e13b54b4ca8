"""What a command said is said again where nothing has changed that it hangs on, and never else."""

from __future__ import annotations

import os
import random
import shutil
import zlib
from datetime import date
from pathlib import Path

import pytest

from pricing import costing, remembered
from pricing.cli import again
from pricing.folder import as_it_lies as lying
from pricing.folder.as_it_lies import as_it_lies
from pricing.formulas import kernel
from pricing.several_files import JOURNAL
from tests.cli.told_again import COMMANDS, Told, edits, told
from tests.exact.many import drawn
from tests.exact.workshop_writer import write
from tests.folders import tin_lane
from tests.meshes.boxes import box, stl

DAY = ("--as-of", "2026-11-20")


@pytest.fixture(scope="module")
def published(tmp_path_factory):
    """A small workshop with an edition of its prices, a mesh and a picture that nobody names."""
    root = tmp_path_factory.mktemp("again") / "shop"
    shutil.copytree(tin_lane(), root)
    assert told("reprice", root, "--publish", "--yes", *DAY).code == 0
    stl(root, box(10.0), name="bar.stl")
    (root / "bar.png").write_bytes(b"a picture")
    return root


@pytest.fixture
def shop(published, tmp_path, monkeypatch):
    """It in a place of its own, as if it had been there for long; answers about small folders are remembered too."""
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(again, "LEAST_FILES", 0)
    monkeypatch.setattr(lying, "SETTLES_AFTER_NS", -(10**18))
    monkeypatch.setattr(kernel, "has_compiled", lambda: False)  # other tests of this process may have
    return shutil.copytree(published, tmp_path / "shop")


@pytest.fixture
def runs(monkeypatch):
    """The commands that really ran, so far."""
    found: list[Path] = []
    cost = costing.cost
    monkeypatch.setattr(costing, "cost", lambda root, asked: (found.append(root), cost(root, asked))[1])
    return found


def ran(runs: list[Path], *words: object) -> tuple[bool, Told]:
    """Whether a command really ran, and what it said."""
    before = len(runs)
    said = told(*words)
    return len(runs) > before, said


def answers(tmp_path: Path) -> list[Path]:
    return sorted((tmp_path / "cache" / "answers").glob("*"))


def test_each_command_says_the_same_without_running(shop, runs):
    for name, *options in (*COMMANDS, ("cost", "--sku", "reed-pin")):
        words = (name, shop, *options, *DAY)
        first = ran(runs, *words)
        assert first[0] and first[1].out and first[1].code == 0
        assert ran(runs, *words) == (False, first[1])


def test_what_was_compiled_here_may_differ_in_its_last_bits_elsewhere(shop, runs, monkeypatch):
    monkeypatch.setattr(kernel, "has_compiled", lambda: True)
    assert ran(runs, "cost", shop, *DAY)[0] and ran(runs, "cost", shop, *DAY)[0]


def test_faults_are_told_again_with_their_exit_code(shop, runs):
    (shop / "products" / "reed-pin.toml").write_text("sku = ")
    first = ran(runs, "check", shop, *DAY)
    assert first[0] and first[1].code == 1 and b"products/reed-pin.toml:1" in first[1].out
    assert ran(runs, "check", shop, *DAY) == (False, first[1])


def test_a_command_that_fails_is_run_again(shop, runs):
    for _ in range(2):
        does, said = ran(runs, "cost", shop, "--sku", "no-such", *DAY)
        assert does and said.code == 2


def changed(shop: Path, file: str) -> None:
    path = shop / file
    path.write_bytes((path.read_bytes() if path.exists() else b"") + b"\n")


@pytest.mark.parametrize(
    "file",
    ["metal_prices.csv", "workshop.toml", "products/reed-pin.toml", "editions/HEAD", "editions/000001.json", "bar.stl"]
    + ["bar.png", "products/new.toml.txt", "deep/er/new.png", "log/HEAD"],
)
def test_whatever_changes_in_the_folder_is_seen(shop, runs, file):
    words = ("check", shop, *DAY)
    assert ran(runs, *words)[0] and not ran(runs, *words)[0]
    (shop / file).parent.mkdir(parents=True, exist_ok=True)
    changed(shop, file)
    does, said = ran(runs, *words)
    assert does
    os.environ["TROYTAG_CACHE"] = "off"  # the fixture puts it back
    assert told(*words) == said


def test_a_folder_that_comes_or_goes_is_seen(shop, runs):
    words = ("check", shop, *DAY)
    told(*words)
    (shop / "log").mkdir()
    assert ran(runs, *words)[0]
    (shop / "log").rmdir()
    assert not (first := ran(runs, *words))[0] or first[1].code == 0


def test_a_file_put_back_as_it_was_is_known_by_its_content(shop, runs):
    words, file = ("cost", shop, *DAY), shop / "channels.toml"
    told(*words)
    content = file.read_bytes()
    file.unlink()
    file.write_bytes(content)
    os.utime(file, (1, 1))
    assert not ran(runs, *words)[0]


@pytest.mark.parametrize(
    "change",
    [
        lambda patch: patch.setenv("COLUMNS", "60"),
        lambda patch: patch.setenv("NO_COLOR", "1"),
        lambda patch: patch.setenv("TZ", "Pacific/Auckland"),
        lambda patch: patch.setenv("ANY_LIBRARY_MAY_LOOK_AT", "this"),
        lambda patch: patch.setattr(again, "program", lambda: "another"),
        lambda patch: patch.setattr(again, "_python", lambda: ["another"]),
        lambda patch: patch.setattr(again.os, "get_terminal_size", lambda number: os.terminal_size((99, 20))),
        lambda patch: patch.setattr(again, "date", type("Later", (date,), {"today": lambda: date(2131, 1, 1)})),
        lambda patch: patch.setattr(again.os, "getcwd", lambda: "/elsewhere"),
    ],
    ids="columns colours zone environment program libraries terminal day place".split(),
)
def test_each_thing_that_it_hangs_on_makes_it_run(shop, runs, monkeypatch, change):
    words = ("cost", shop, *DAY)
    told(*words)
    change(monkeypatch)
    assert ran(runs, *words)[0]


def test_what_the_shell_tells_of_itself_and_the_order_of_options_make_no_difference(shop, runs, monkeypatch):
    told("cost", shop, "--json", *DAY)
    monkeypatch.setenv("SHLVL", "7")
    assert not ran(runs, "cost", *DAY, "--json", shop)[0]
    for words in (("cost", shop, *DAY), ("cost", shop, "--json", "--as-of", "2026-11-21"), ("cost", shop, "--json")):
        assert ran(runs, *words)[0]


def test_nobody_can_say_which_program_it_is(shop, runs, monkeypatch, tmp_path):
    monkeypatch.setattr(again, "program", lambda: None)
    for _ in range(2):
        assert ran(runs, "cost", shop, *DAY)[0]


def test_what_writes_asks_or_looks_elsewhere_always_runs(shop, runs, tmp_path):
    for options in (("--xlsx", tmp_path / "rows.xlsx", "--force"), ("--publish", "--yes")):
        for _ in range(2):
            assert ran(runs, "reprice", shop, *options, *DAY)[0]
    for _ in range(2):
        assert ran(runs, "cost", shop, "--sure", *DAY)[0]


def test_an_option_that_names_a_file_is_not_taken_for_its_content(shop):
    """A command may get one some day: then its answer is not remembered."""
    said = {"folder": shop, "context": object(), "sku": ["reed-pin"], "json": False}
    assert again._answer("cost", said) is not None
    assert again._answer("cost", said | {"history": Path("prices.csv")}) is None


@pytest.mark.parametrize("what", ["link", "folder link", "journal", "pipe"])
def test_a_folder_of_which_not_all_can_be_told_is_read_each_time(shop, what, tmp_path):
    if what == "journal":
        (shop / JOURNAL).write_text("{}")
    elif what == "pipe":
        os.mkfifo(shop / "meshes.stl")
    else:
        (tmp_path / "away").mkdir()
        target = tmp_path / "away" if what == "folder link" else shop / "bar.stl"
        (shop / "link.stl").symlink_to(target)
    assert as_it_lies(shop) is None


def test_too_much_and_too_little_is_left_alone(shop, monkeypatch):
    files = sum(path.is_file() for path in shop.rglob("*"))
    assert as_it_lies(shop, files) is not None and as_it_lies(shop, files + 1) is None
    monkeypatch.setattr(lying, "MOST_BYTES", 100)
    assert as_it_lies(shop) is None
    monkeypatch.undo()
    monkeypatch.setattr(lying, "MOST_ENTRIES", files)  # there are folders besides
    assert as_it_lies(shop) is None


def test_what_was_changed_while_the_command_ran_is_not_remembered(shop, runs, monkeypatch):
    """Read before the change or after it, nobody knows: also where the file is as it was in the end."""
    words, file = ("cost", shop, *DAY), shop / "metal_prices.csv"
    content, cost = file.read_bytes(), costing.cost

    def meanwhile(root, asked):
        file.write_bytes(content.replace(b"2026", b"2025"))
        found = cost(root, asked)
        file.write_bytes(content)
        return found

    monkeypatch.setattr(costing, "cost", meanwhile)
    told(*words)
    monkeypatch.setattr(costing, "cost", cost)
    assert ran(runs, *words)[1] is not None
    os.environ["TROYTAG_CACHE"] = "off"
    fresh = told(*words)
    os.environ["TROYTAG_CACHE"] = str(shop.parent / "cache")
    assert told(*words) == fresh


def test_what_was_written_lately_is_not_trusted(shop, runs, monkeypatch):
    """Two seconds: as coarse as clocks of file systems are."""
    monkeypatch.setattr(lying, "SETTLES_AFTER_NS", 2_000_000_000)
    (shop / "bar.png").unlink()
    for _ in range(2):
        assert ran(runs, "cost", shop, *DAY)[0]
    monkeypatch.setattr(lying.time, "time_ns", lambda: 2**62)  # long after
    assert [ran(runs, "cost", shop, *DAY)[0] for _ in range(2)] == [True, False]


def test_what_was_written_by_a_new_program_meanwhile_is_not_remembered(shop, runs, monkeypatch):
    monkeypatch.setattr(again, "is_same_program", lambda: False)
    for _ in range(2):
        assert ran(runs, "cost", shop, *DAY)[0]


def torn(entry: Path) -> None:
    entry.write_bytes(entry.read_bytes()[:-20])


def forged(entry: Path) -> None:
    """With a right hash, by who can write as this user: what is no answer is not taken for one."""
    head = entry.read_bytes()[64:128]
    for text in (b"", b"{}", b'{"code":0,"pieces":[[0,9]]}\nshort', b'{"code":0,"pieces":[[2,1]]}\nx', b"[]\n"):
        content = head + zlib.compress(text)
        entry.write_bytes(remembered._bound(entry.name, content) + content)


def of_another(entry: Path) -> None:
    content = b"0" * 64 + zlib.compress(b'{"code":0,"pieces":[[0,5]]}\nwrong')
    entry.write_bytes(remembered._bound(entry.name, content) + content)


def open_to_all(entry: Path) -> None:
    entry.chmod(0o666)


def open_folder(entry: Path) -> None:
    entry.parent.chmod(0o777)


@pytest.mark.parametrize("harm", [torn, forged, of_another, open_to_all, open_folder])
def test_an_answer_that_may_not_be_believed_is_given_anew(shop, runs, tmp_path, harm):
    words = ("cost", shop, *DAY)
    first = told(*words)
    (entry,) = answers(tmp_path)
    harm(entry)
    assert ran(runs, *words) == (True, first)


def test_a_cache_that_cannot_be_written_is_no_fault(shop, runs, tmp_path, monkeypatch):
    (tmp_path / "cache").write_text("a file is in the way")
    first = told("cost", shop, *DAY)
    assert first.code == 0 and ran(runs, "cost", shop, *DAY) == (True, first)
    monkeypatch.setenv("TROYTAG_CACHE", "off")
    assert ran(runs, "cost", shop, *DAY) == (True, first)


def test_the_oldest_answers_are_forgotten(shop, runs, tmp_path, monkeypatch):
    monkeypatch.setattr(again, "MOST_ANSWERS", 2)
    days = [("--as-of", f"2026-11-2{day}") for day in range(4)]
    for number, day in enumerate(days):
        told("cost", shop, *day)
        for entry in answers(tmp_path):
            if entry.stat().st_mtime > 1000:
                os.utime(entry, (number, number))
    assert len(answers(tmp_path)) == 2
    assert [ran(runs, "cost", shop, *day)[0] for day in days[2:]] == [False, False]
    monkeypatch.setattr(again, "MOST_KEPT", 1)
    told("cost", shop, *days[0])
    assert answers(tmp_path) == []


@pytest.mark.parametrize("bound", ["MOST_SIGNS", "MOST_PACKED"])
def test_an_answer_that_is_too_long_is_not_kept(shop, runs, tmp_path, monkeypatch, bound):
    monkeypatch.setattr(again, bound, 100)
    for _ in range(2):
        assert ran(runs, "cost", shop, "--csv", *DAY)[0]
    assert answers(tmp_path) == []


def test_a_long_answer_is_packed_and_a_short_one_kept_as_it_is(shop, runs, tmp_path, monkeypatch):
    sizes = []
    for most in (0, 10**6):
        monkeypatch.setattr(again, "MOST_PLAIN", most)
        first, second = (ran(runs, "cost", shop, "--json", "--as-of", f"2026-11-2{bool(most):d}") for _ in range(2))
        assert (first[0], second[0]) == (True, False) and first[1:] == second[1:]
        sizes.append(sum(entry.stat().st_size for entry in answers(tmp_path)) - sum(sizes))
    assert sizes[0] < sizes[1] / 2


def test_every_file_that_is_opened_counts_by_its_content(shop, monkeypatch):
    """The endings are a list of their own: whatever these commands come to open in the folder must be among them."""
    opened, opens = set(), os.open
    product = shop / "products" / "reed-pin.toml"
    product.write_text(product.read_text() + '\nmodel = "bar.stl"\n')
    monkeypatch.setattr(os, "open", lambda path, *more, **kw: (opened.add(str(path)), opens(path, *more, **kw))[1])
    monkeypatch.setenv("TROYTAG_CACHE", "off")
    for words in COMMANDS:
        told(words[0], shop, *words[1:], *DAY)
    inside = {path.removeprefix(f"{shop}/") for path in opened if path.startswith(f"{shop}/")}
    assert {"workshop.toml", "metal_prices.csv", "products/reed-pin.toml", "editions/HEAD"} <= inside
    assert [file for file in inside if not lying._by_content(file)] == []


def test_streams_keep_the_order_of_what_was_said(shop, runs, monkeypatch):
    """Hints go to stderr between what goes to stdout: piece by piece it is written as it was at first."""
    written = []

    class Stream:
        encoding, errors = "utf-8", "strict"

        def __init__(self, name):
            self.name = name

        def write(self, text):
            written.append((self.name, text))
            return len(text)

        def flush(self):
            written.append((self.name, None))

        def isatty(self):
            return False

    monkeypatch.setattr(again.sys, "stdout", Stream("out"))
    monkeypatch.setattr(again.sys, "stderr", Stream("err"))
    command = again.remembering("cost", lambda folder, as_of: say())

    def say():
        runs.append(shop)
        again.sys.stdout.write("one ")
        again.sys.stderr.write("two ")
        again.sys.stdout.flush()
        again.sys.stdout.writelines(["three ", "four"])

    command(folder=shop, as_of=None)
    first, written[:] = list(written), []
    command(folder=shop, as_of=None)
    assert runs == [shop] and first[-1] == ("out", None)
    assert written == first[:-1]  # at the end of the first all was written before it was remembered


def test_random_edits_of_random_workshops_change_no_answer(tmp_path):
    """More of them: `python -m tests.cli.told_again`."""
    for number in (3, 8):
        workshop, chance = drawn(11, number), random.Random(number)
        root = write(workshop, tmp_path / str(number))
        *_, counted = edits(root, chance, costing.Asked(workshop.as_of), 4, 1)
        assert counted.compared == 8 and counted.remembered >= 2
