"""Nothing outside the folder is read or written, whatever it is called."""

from __future__ import annotations

import os

import pytest

OUTSIDE = [
    "../secret.toml",
    "..%2fsecret.toml",
    "%2e%2e/secret.toml",
    "products/../../secret.toml",
    "products/..%2f..%2fsecret.toml",
    "/etc/passwd",
    "%2fetc%2fpasswd",
    "products//etc/passwd",
    "products/%00.toml",
    "products/.hidden.toml",
    "products/acorn-knob.toml/",
    "products/./acorn-knob.toml",
    "products",
    "",
    "editions/000001.json",
    "notes.txt",
    "..\\secret.toml",
    "products/..\\..\\secret.toml",
    "meshes/acorn-knob.stl",
]


@pytest.fixture
def secret(folder):
    """A file beside the folder, one hidden in it, and one that is none of ours."""
    (folder.parent / "secret.toml").write_text('word = "hush"\n')
    (folder / "products" / ".hidden.toml").write_text('word = "hush"\n')
    (folder / "notes.txt").write_text("hush\n")
    return folder


@pytest.mark.parametrize("name", OUTSIDE)
def test_no_other_file_is_shown_or_written(secret, served, name):
    before = {path: path.read_bytes() for path in secret.parent.rglob("*") if path.is_file()}
    for method, path in (("GET", "edit"), ("POST", "edit-save")):
        body = b"text=gone&expected=" if method == "POST" else None
        headers = {"Origin": served.origin, "Content-Type": "application/x-www-form-urlencoded"} if body else {}
        answer = served.ask(method, f"/{path}/{name}", headers, body)
        assert answer.status in (303, 307, 404, 405, 400), (path, name)
        assert b"hush" not in answer.content and b"root:" not in answer.content
    assert {path: path.read_bytes() for path in secret.parent.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize(
    "file",
    [
        "../secret.stl",
        "/etc/passwd",
        "meshes/../../secret.stl",
        "meshes/link.stl",
        "workshop.toml",
        "meshes",
        "",
        "\x00",
        "a" * 5000,
    ],
)
def test_only_meshes_of_the_folder_are_turned(folder, served, file):
    from urllib.parse import quote

    mesh = (folder / "meshes" / "acorn-knob.stl").read_bytes()
    (folder.parent / "secret.stl").write_bytes(mesh)
    os.symlink(folder.parent / "secret.stl", folder / "meshes" / "link.stl")
    assert served.get(f"/design/mesh/triangles?file={quote(file)}").status == 404


def test_static_files_end_at_their_folder(served):
    for path in (
        "/static/../page.html",
        "/static/%2e%2e/catalogue.html",
        "/static/..%2fcatalogue.html",
        "/static//etc/passwd",
    ):
        assert served.get(path).status == 404


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../evil.stl", "evil.stl"),
        ("..\\..\\evil.STL", "evil.stl"),
        ("/etc/cron.d/evil.stl", "evil.stl"),
        (".bashrc.stl", "bashrc.stl"),
        ("Acorn & <b>Knob</b>.stl", "b.stl"),  # what stands before the last slash is a folder's name
        ("acorn knob (2).stl", "acorn-knob-2.stl"),
        ("\u202elts.stl", "lts.stl"),
        ("con\x00.stl", "con.stl"),
        ("...stl", "mesh.stl"),
    ],
)
def test_an_upload_s_name_is_only_a_name(sent, kept):
    from pricing.page.views.meshes import file_name

    assert file_name(sent) == kept
