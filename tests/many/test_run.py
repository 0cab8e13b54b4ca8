"""A run over many row groups: continued after a kill, never torn, never against other inputs; and what it comes to."""

from __future__ import annotations

import errno
import json
import os
from contextlib import contextmanager

import numpy as np
import pyarrow.parquet as pq
import pytest

from pricing.errors import Faults, TroytagError, UsageFault
from pricing.formulas import kernel as kernels
from pricing.formulas.kernel.library import NotCompiled, compiler
from pricing.many import here, pricing_batch, run, stream, variants
from pricing.many.exchange import folder_of
from pricing.many.run import begun, check_target, priced, summarised
from pricing.many.stream import Job, ready, tables
from pricing.many.summary import records
from tests.many_files import grown

ROWS, GROUP = 240, 40


class Killed(Exception):
    """What ends a run here in place of a kill."""


@pytest.fixture(scope="module")
def large(exported, tmp_path_factory):
    """Six row groups, a part each."""
    return grown(exported.folder, tmp_path_factory.mktemp("large"), ROWS, GROUP)


@pytest.fixture
def made(large, monkeypatch):
    return made_of(large, monkeypatch)


def made_of(path, monkeypatch, **said):
    monkeypatch.setattr(stream, "PART_PRICES", 5 * GROUP)
    ready.cache_clear()
    return ready(Job(str(path), None, **said))


def silent(done, of):
    pass


def killed_after(parts):
    """Tells how far a run is, until it is killed."""
    told = []

    def tell(done, of):
        told.append(done)
        if len(told) > parts:
            raise Killed

    return tell


def test_what_a_kill_leaves_is_continued_to_the_same_file(made, tmp_path):
    whole, again = tmp_path / "whole.parquet", tmp_path / "again.parquet"
    done = priced(made, whole, False, silent)
    assert (done.parts, done.continued, done.summary.variants) == (6, 0, ROWS)
    with pytest.raises(Killed):
        priced(made, again, False, killed_after(3))
    assert not again.exists() and len(list(folder_of(again).glob("part-*"))) == 3
    (folder_of(again) / "part-000001.parquet").write_bytes(b"torn")  # a part that is not whole is made again
    told = []
    continued = priced(made, again, False, lambda done, of: told.append((done, of)))
    assert continued.continued == 2 and told[0] == (2 * GROUP, ROWS) and told[-1] == (ROWS, ROWS)
    assert again.read_bytes() == whole.read_bytes()
    assert records(continued.summary, made.channels, 0.0) == records(done.summary, made.channels, 0.0)
    assert not folder_of(again).exists() and sorted(each.name for each in tmp_path.iterdir()) == [
        "again.parquet", "whole.parquet",
    ]  # fmt: skip


def test_a_run_is_not_continued_with_other_inputs(large, made, tmp_path, monkeypatch):
    target = tmp_path / "prices.parquet"
    with pytest.raises(Killed):
        priced(made, target, False, killed_after(2))
    other = made_of(large, monkeypatch, spot=(("Ag", 50.0),))
    with pytest.raises(UsageFault, match=r"holds a run that was begun with other metal prices"):
        priced(other, target, False, silent)
    assert not target.exists() and len(list(folder_of(target).glob("part-*"))) == 2
    assert priced(other, target, True, silent).continued == 0


def test_after_a_mend_the_run_goes_on_unasked(exported, tmp_path, monkeypatch):
    """A figure in the last of three row groups is none; what was made of the others by then is kept."""
    path = grown(exported.folder, tmp_path / "in", 3 * GROUP, GROUP)
    whole, target = path.read_bytes(), tmp_path / "prices.parquet"
    priced(made_of(path, monkeypatch), tmp_path / "expected.parquet", False, silent)
    table = pq.read_table(path)
    scales = table["scale"].to_pylist()
    scales[2 * GROUP + 3] = float("nan")
    off = table.set_column(table.schema.get_field_index("scale"), table.schema.field("scale"), [scales])
    with pq.ParquetWriter(path, table.schema, compression="zstd", version="2.6") as writer:
        writer.write_table(off, row_group_size=GROUP)
    with pytest.raises(Faults, match="row group 2, row 3, scale: nan"):
        priced(made_of(path, monkeypatch), target, False, silent)
    assert begun(target) == 2
    with pq.ParquetWriter(path, table.schema, compression="zstd", version="2.6") as writer:
        writer.write_table(table, row_group_size=GROUP)
    assert priced(made_of(path, monkeypatch), target, False, silent).continued == 2
    target.unlink()
    path.write_bytes(whole)  # as it was at first: other bytes, the same rows
    assert priced(made_of(path, monkeypatch), target, False, silent).continued == 0
    assert pq.read_table(target).equals(pq.read_table(tmp_path / "expected.parquet"))


def test_what_a_kill_leaves_behind_a_file_that_is_done_is_swept_the_next_time(made, tmp_path, monkeypatch):
    target = tmp_path / "prices.parquet"

    def kill(folder):
        raise Killed

    with monkeypatch.context() as patched:  # the file stands, its parts are not swept
        patched.setattr("shutil.rmtree", kill)
        with pytest.raises(Killed):
            priced(made, target, False, silent)
    assert target.is_file() and begun(target) == 6
    with pytest.raises(UsageFault, match="stands already"):
        priced(made, target, False, silent)
    assert [each.name for each in tmp_path.iterdir()] == [target.name]


def test_side_by_side_the_file_is_the_same(made, tmp_path, monkeypatch):
    """Two threads, a part each; and one that fails ends the run, with what was done by then."""
    one, two = tmp_path / "one.parquet", tmp_path / "two.parquet"
    expected = priced(made, one, False, silent).summary
    monkeypatch.setattr(here, "ROWS_A_THREAD", 1)
    monkeypatch.setattr(here, "processors", lambda: 2)
    asked: list[int] = []

    def put(made, span, target, threads, real=here.put_part):
        asked.append(threads)
        if len(asked) == 4:
            raise Killed
        return real(made, span, target, threads)

    monkeypatch.setattr(here, "put_part", put)
    with pytest.raises(Killed):
        priced(made, two, False, silent)
    assert 3 <= begun(two) < 6
    found = priced(made, two, False, silent)
    assert found.continued >= 3 and set(asked) == {1} and two.read_bytes() == one.read_bytes()
    assert records(found.summary, made.channels, 0.0) == records(expected, made.channels, 0.0)
    summary = records(summarised(made, silent).summary, made.channels, 0.0)
    assert summary == records(expected, made.channels, 0.0)


def test_a_part_of_bytes_that_changed_is_made_again(exported, tmp_path, monkeypatch):
    """The same length and footer, other bytes within: only the hash of the row group tells."""
    path = grown(exported.folder, tmp_path / "in", 2 * GROUP, GROUP)
    target = tmp_path / "prices"
    with pytest.raises(Killed):
        priced(made_of(path, monkeypatch), target, False, killed_after(1))
    held = bytearray(path.read_bytes())
    held[10] ^= 1  # in a page of the first row group
    path.write_bytes(held)
    found = made_of(path, monkeypatch)
    said = pq.read_metadata(folder_of(target) / "part-000000.parquet").metadata
    assert stream.digest_of(found, found.spans[0]) != said[stream.MADE_OF.encode()].decode()


def test_to_a_folder_goes_a_file_a_part(made, tmp_path, monkeypatch):
    one, many = tmp_path / "prices.parquet", tmp_path / "prices"
    priced(made, one, False, silent)
    priced(made, many, False, silent)
    assert sorted(each.name for each in many.iterdir()) == [f"part-{place:06d}.parquet" for place in range(6)]
    assert pq.read_table(many).to_pylist() == pq.read_table(one).to_pylist()
    with pytest.raises(UsageFault, match="stands already"):
        priced(made, many, False, silent)
    rename = os.rename

    def kill(source, goal):
        if source == folder_of(many):
            raise Killed
        rename(source, goal)

    with monkeypatch.context() as patched:  # with the older folder put aside
        patched.setattr(os, "rename", kill)
        with pytest.raises(Killed):
            priced(made, many, True, silent)
    assert not many.exists()
    with pytest.raises(UsageFault, match="stands already"):  # it went back; and what was made by then is kept
        priced(made, many, False, silent)
    assert priced(made, many, True, silent).continued == 6 and len(list(many.iterdir())) == 6
    (many / "letter.txt").write_text("mine")
    with pytest.raises(UsageFault, match="holds other files, too"):
        priced(made, many, True, silent)


@pytest.mark.parametrize("name", ["variants.parquet", "workshop.parquet", "link.parquet", "."])
def test_what_is_read_is_never_overwritten(name, large, made, tmp_path):
    link = large.parent / "link.parquet"
    if not link.is_symlink():
        link.symlink_to(large)
    before = large.read_bytes()
    with pytest.raises(UsageFault, match="is what the prices are made of"):
        priced(made, large.parent / name, True, silent)
    assert large.read_bytes() == before


def test_no_prices_are_put_among_variants_that_are_read_as_a_folder(exported, troytag):
    """They would be read as variants the next time; said before anything is read."""
    folder = exported.folder
    before = sorted(folder.iterdir())
    ran = troytag("reprice", "--from", folder, "--to", folder / "prices.parquet", "--workshop", "nowhere.parquet")
    assert ran.code == 2 and "prices.parquet would lie among the variants" in " ".join(ran.err.split())
    with pytest.raises(UsageFault, match="would lie among the variants"):
        priced(ready(Job(str(folder), None)), folder / "prices.parquet", True, silent)
    check_target(folder / "prices", False, (folder,))  # a folder of its own is not read with it
    check_target(folder / "prices.parquet", False, (folder / "variants.parquet",))
    assert sorted(folder.iterdir()) == before


def test_a_disk_without_room_is_told_and_what_is_done_is_kept(made, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "no room")

    with pytest.raises(Killed):
        priced(made, tmp_path / "p.parquet", False, killed_after(2))
    monkeypatch.setattr(stream, "write_part", full)
    with pytest.raises(TroytagError, match=r"p\.parquet cannot be written \(no space left on device\)\. What is done"):
        priced(made, tmp_path / "p.parquet", False, silent)
    assert len(list(folder_of(tmp_path / "p.parquet").glob("part-*"))) == 2


@pytest.mark.parametrize("fault", [OSError(errno.ENOSPC, "no room"), KeyboardInterrupt(), Killed()])
def test_of_a_run_that_came_to_nothing_nothing_is_kept(fault, made, tmp_path, monkeypatch):
    def ends(*_):
        raise fault

    for room, part in ((stream, "write_part"), (run, "write_whole")):  # in the first part; before it
        with monkeypatch.context() as patched:
            patched.setattr(room, part, ends)
            with pytest.raises((TroytagError, KeyboardInterrupt, Killed)):
                priced(made, tmp_path / "prices", False, silent)
        assert not list(tmp_path.iterdir())


def test_empty_folders_that_a_kill_left_are_in_nobodys_way(large, made, tmp_path, monkeypatch):
    """Of the run itself, begun with other metal prices, and of what was to be written."""
    target = tmp_path / "prices"
    with monkeypatch.context() as patched:  # as when the process is gone at once
        patched.setattr("shutil.rmtree", lambda folder: None)
        with pytest.raises(Killed):
            priced(made_of(large, monkeypatch, spot=(("Ag", 50.0),)), target, False, killed_after(0))
    assert [each.name for each in tmp_path.iterdir()] == [folder_of(target).name]
    target.mkdir()
    priced(made, target, False, silent)
    assert [each.name for each in tmp_path.iterdir()] == ["prices"] and len(list(target.iterdir())) == 6


def test_a_run_that_waits_for_another_begins_in_a_folder_of_its_own(tmp_path, monkeypatch):
    """The one that it waited for has taken the folder away that the lock is on."""
    work, waits = tmp_path / "work", []

    @contextmanager
    def waiting(folder, real=run.only_writer):
        with real(folder):
            if not waits:
                waits.append(folder.rename(tmp_path / "taken-away"))
            yield

    monkeypatch.setattr(run, "only_writer", waiting)
    with pytest.raises(FileNotFoundError, match="of the work itself"), run._alone(work):
        assert work.is_dir() and waits
        raise FileNotFoundError("of the work itself")


def test_the_summary_is_that_of_the_prices(made):
    """Means and counts against the rows themselves; tenths within the 1/1024 that a bin is wide."""
    rows = [row for span in made.spans for table, _ in tables(made, span) for row in table.to_pylist()]
    found = {each["channel"]: each for each in records(summarised(made, silent).summary, made.channels, 0.0)}
    for channel in made.channels:
        own = [row for row in rows if row["channel"] == channel]
        assert found[channel]["prices"] == len(own)
        costs, margins = (np.array([row[name] for row in own]) for name in ("unit_cost", "margin_asked"))
        assert found[channel]["unit_cost"]["mean"] == pytest.approx(costs.mean(), rel=1e-12)
        assert found[channel]["margin_asked"]["mean"] == pytest.approx(margins.mean(), rel=1e-12)
        for tenth, share in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
            lower = np.quantile(costs, share, method="lower")
            assert found[channel]["unit_cost"][tenth] == pytest.approx(lower, rel=1 / 1000)


def test_counts_of_a_margin_are_those_of_the_prices(large, monkeypatch):
    found = made_of(large, monkeypatch, under=0.3)
    rows = [row for span in found.spans for table, _ in tables(found, span) for row in table.to_pylist()]
    told = {each["channel"]: each["under"] for each in records(summarised(found, silent).summary, found.channels, 0.3)}
    for channel in found.channels:
        now = [row["margin_now"] if row["margin_now"] is not None else row["margin_asked"] for row in rows
               if row["channel"] == channel]  # fmt: skip
        assert told[channel] == {"margin": 0.3, "prices": sum(margin < 0.3 for margin in now)}


def test_how_a_file_is_cut_into_batches_changes_no_figure(large, made, monkeypatch):
    whole = [table.to_pylist() for span in made.spans for table, _ in tables(made, span)]
    monkeypatch.setattr(variants, "BATCH_ROWS", 256)
    monkeypatch.setattr(variants, "rows_of_a_batch", lambda widths, workshop: 25)
    again = [row for span in made.spans for table, _ in tables(made, span) for row in table.to_pylist()]
    assert again == [row for rows in whole for row in rows]


@pytest.mark.slow
def test_compiled_a_batch_divided_by_its_steps_comes_to_the_same(exported, tmp_path, monkeypatch):
    """Together and apart, to the last bit; and within rounding of numpy."""
    if compiler() is None:
        pytest.skip("no compiler")
    without = tmp_path / "without"
    path = grown(exported.folder, without, 300, 300)
    table = pq.read_table(path).drop_columns(["price_in_force", "price_set_on"])
    pq.write_table(table, path)
    by_numpy = [row for table, _ in tables(*_one(path, monkeypatch)) for row in table.to_pylist()]
    monkeypatch.setattr(kernels, "COMPILED_FROM", 1)
    found = []
    for worth in (10**9, 8, 1):
        monkeypatch.setattr(pricing_batch, "WORTH_A_GROUP", worth)
        try:
            made, span = _one(path, monkeypatch)
        except NotCompiled as fault:
            pytest.skip(str(fault))
        assert made.compiled
        found.append([row for table, _ in tables(made, span) for row in table.to_pylist()])
    assert found[0] == found[1] == found[2]
    for one, other in zip(found[0], by_numpy, strict=True):
        assert one["unit_cost"] == pytest.approx(other["unit_cost"], rel=1e-12)


def _one(path, monkeypatch):
    made = made_of(path, monkeypatch)
    (span,) = made.spans
    return made, span


def test_the_commands(exported, troytag, tmp_path, monkeypatch):
    folder, prices = exported.folder.parent / "workshop", tmp_path / "prices.parquet"
    files = tmp_path / "files"
    assert troytag("export", folder, "parquet", "--to", files, "--as-of", "2026-11-20").code == 0
    stands = troytag("export", folder, "parquet", "--to", files)
    assert stands.code == 2 and "Name another folder with --to" in stands.err
    with monkeypatch.context() as patched:
        patched.setattr("pricing.many.write.written", lambda *_: {"workshop.parquet": b"whole"})
        with pytest.raises(KeyError):
            troytag("export", folder, "parquet", "--to", tmp_path / "broken-off")
    assert not (tmp_path / "broken-off").exists()
    file = troytag("export", folder, "parquet", "--to", files / "variants.parquet")
    assert file.code == 2 and "two files are written. Name a folder" in file.err
    ran = troytag("reprice", "--from", files / "variants.parquet", "--to", prices, "--json")
    said = json.loads(ran.out)
    assert ran.code == 0 and said["variants"] == 40 and said["prices"] == pq.read_metadata(prices).num_rows
    assert sum(each["verdicts"]["hold"] for each in said["channels"]) > 0
    table = pq.read_schema(prices)
    assert table.metadata[b"troytag.currency"].decode() == said["currency"]
    assert table.metadata[b"troytag.as_of"] == b"2026-11-20"
    assert b"workshop's currency" in table.field("unit_cost").metadata[b"meaning"]  # whatever the channel's is
    assert table.field("price").metadata[b"unit"] == b"quoted"
    as_variants = troytag("reprice", "--from", prices, "--summary")
    assert as_variants.code == 2 and "holds prices" in as_variants.err
    again = troytag("reprice", "--from", files / "variants.parquet", "--to", prices)
    assert again.code == 2 and "stands already" in again.err
    summary = troytag("reprice", "--from", files, "--summary", "--spot", "Ag=60", "--under", "0.2")
    assert summary.code == 0 and "under 20 %" in summary.out and "40 variants, 117 prices" in summary.out
    assert f"Costs are in {said['currency']}, prices in the currency of their channel." in summary.out


def test_ctrl_c_is_told_in_one_sentence_and_what_is_done_goes_on(large, made, troytag, tmp_path, monkeypatch):
    """After the second part; then the same command again."""
    target = tmp_path / "prices.parquet"
    words = "reprice", "--from", large, "--to", target, "--json"

    def stopped_after_two(*given, real=here.put_part):
        if begun(target) == 2:
            raise KeyboardInterrupt
        return real(*given)

    with monkeypatch.context() as patched:
        patched.setattr(here, "put_part", stopped_after_two)
        ran = troytag(*words)
        patched.setattr(here, "summarise", stopped_after_two)
        summary = troytag("reprice", "--from", large, "--summary")
    assert (
        ran.code == 130
        and ran.out == ""
        and ran.err.splitlines()[-1] == ("Stopped: what is done is kept, and the same command goes on from there.")
    )
    assert summary.code == 130 and summary.err.splitlines()[-1] == "Stopped: nothing was written."
    again = json.loads(troytag(*words).out)
    assert (again["parts_of_a_run_before"], again["parts"], again["prices"]) == (
        2,
        6,
        pq.read_metadata(target).num_rows,
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "Name the workshop folder, or very many variants in Parquet: --from FILE."),
        (("--from", "FILE"), "Say where the prices go, --to FILE, or ask for --summary alone."),
        (("--from", "FILE", "--to", "prices.csv"), "prices go to a file whose name ends in .parquet, or to a folder"),
        (("--from", "FILE", "--summary", "--publish"), "--publish does not go with --from."),
        (("sample", "--from", "FILE", "--summary"), "A folder does not go with --from."),
        (("--from", "FILE", "--summary", "--spot", "silver"), "--spot silver: write METAL=PRICE, as Ag=31.20."),
        (("--from", "FILE", "--summary", "--spot", "Xx=3"), "--spot Xx: there is no such metal."),
        (("--from", "FILE", "--summary", "--workers", "0"), "--workers 0: at least one."),
        (("sample", "--summary"), "go with --from FILE."),
    ],
)  # fmt: skip
def test_words_that_are_off(words, told, exported, troytag):
    named = [str(exported.folder / "variants.parquet") if word == "FILE" else word for word in words]
    ran = troytag("reprice", *named)
    assert ran.code == 2 and told in " ".join(ran.err.split())
