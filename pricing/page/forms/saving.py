"""Writing to the folder from the page: a draft as a product file, a text as a whole file; nothing of others is lost."""

from __future__ import annotations

from pathlib import Path

from pricing.errors import Fault, Faults, Place
from pricing.folder.files import PRODUCTS_FOLDER
from pricing.folder.read import read_folder
from pricing.folder.toml.text import decoded
from pricing.folder.whole_files import changed_meanwhile, hash_of, held, put_in_place
from pricing.folder.write import change_file, new_product
from pricing.page.forms.draft import MOST_ITEMS, Draft, edits_of, mesh_file, upload_of, values_of
from pricing.page.forms.sizes import nested
from pricing.page.workspace import Look, Upload, Workspace, leads_inside

#: A mesh of the same name that is another one gets a number, up to this.
MOST_NAMESAKES = 200


def save_draft(workspace: Workspace, look: Look, draft: Draft) -> tuple[str, str]:
    """Write a draft; gives its sku and its file. Raises Faults, and then nothing has been written.

    A mesh that was dropped goes into `meshes/` with it, all or none.
    """
    root = workspace.root
    uploads = [each for place in range(MOST_ITEMS) if (each := upload_of(workspace, draft, place))]
    values = values_of(workspace, look, draft)
    meshes: dict[str, bytes] = {}
    for upload in uploads:
        file = _mesh_name(root, upload, meshes)
        for casting in values["castings"] or ():
            if casting.get("mesh") == mesh_file(upload):
                casting["mesh"] = file
    for file in meshes:
        stay_inside(root, file)
    if draft.sku:
        file = look.costing.folder.product_file(draft.sku)
        stay_inside(root, file)
        change_file(root, file, edits_of(workspace, look, draft, values), look.costing.folder.hashes[file], meshes)
        return draft.sku, file
    if found := lacking(look, draft):
        raise Faults(found)
    file = new_product(root, nested(values), meshes)
    return str(values["sku"]), file


def stay_inside(root: Path, file: str) -> None:
    """Raise Faults where a file of the folder is a link that leads out of it."""
    if not leads_inside(root, file):
        problem = "this is a link that leads out of the folder, and nothing was written"
        raise Faults([Fault(Place(file), "", problem, "Change it where it lies, or put the file itself here.")])


def lacking(look: Look, draft: Draft) -> list[Fault]:
    """What a new product needs to be saved, though not to be costed: a name, and a sku of its own."""
    if draft.sku:
        return []
    sku = draft.get("sku").strip()
    found = [
        Fault(Place(PRODUCTS_FOLDER), key, f"{key} is missing", "Give it one.")
        for key in ("name", "sku")
        if not draft.get(key).strip()
    ]
    if sku in look.products:
        mend = "Give this one another sku."
        found.append(Fault(Place(PRODUCTS_FOLDER), "sku", f'another product has the sku "{sku}" already', mend))
    return found


def _mesh_name(root: Path, upload: Upload, new: dict[str, bytes]) -> str:
    """The file of a mesh in the folder: its name or its name with a number. One that is not there yet joins `new`."""
    content = upload.path.read_bytes()
    name = Path(upload.name)
    for number in range(1, MOST_NAMESAKES):
        file = f"meshes/{name.stem}{f'-{number}' if number > 1 else ''}{name.suffix}"
        path = root / file
        if new.get(file) == content or (path.is_file() and path.read_bytes() == content):
            return file
        if file not in new and not path.exists():
            new[file] = content
            return file
    raise Faults([Fault(Place(mesh_file(upload)), "mesh", "too many meshes have this name", "Rename the file.")])


def save_text(root: Path, file: str, text: str, expected: str | None) -> str:
    """Put a whole text in the place of a file of the folder; gives its content hash.

    Raises Faults where another one lies there than the one whose hash is `expected`, and where the folder would have
    a fault that it does not have now; then nothing has been written.
    """
    content = text.encode()
    decoded(file, content)
    stay_inside(root, file)
    with held(root):
        if hash_of(root, file) != expected:
            raise changed_meanwhile(file)
        try:
            read_folder(root, {file: content})
        except Faults as after:
            known = _faults_now(root)
            new = [fault for fault in after.faults if (fault.place.file, fault.key, fault.problem) not in known]
            if new:
                raise Faults(new) from None
        return put_in_place(root, file, content, expected)


def _faults_now(root: Path) -> set[tuple[str, str, str]]:
    try:
        read_folder(root)
    except Faults as before:
        return {(fault.place.file, fault.key, fault.problem) for fault in before.faults}
    return set()
