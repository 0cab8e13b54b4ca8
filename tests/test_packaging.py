"""The package as others get it: wheel, source archive, editable installation; and the commands of the README."""

from __future__ import annotations

import ast
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from importlib.metadata import packages_distributions, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import pricing
from pricing import resources
from pricing.errors import TroytagError

CHECKOUT = Path(__file__).parent.parent
SHIPPED = ("sample_catalog", "templates")
PROJECT = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["project"]
TELL_FOLDERS = """
import sys
sys.path.insert(0, sys.argv[1])
from pricing import resources
print(resources.sample_catalog(), resources.templates(), sep="\\n")
"""

pytestmark = pytest.mark.slow


def build(source: Path, target: str, directory: Path) -> Path:
    """Build without a network, by the hatchling that is installed."""
    command = [sys.executable, "-m", "hatchling", "build", "-t", target, "-d", str(directory)]
    subprocess.run(command, cwd=source, check=True)
    return next(directory.iterdir())


def files_below(folder: Path) -> dict[str, bytes]:
    """Content by relative path, without what Python and the tools leave behind."""
    found = {path.relative_to(folder): path for path in folder.rglob("*") if path.is_file()}
    return {
        name.as_posix(): path.read_bytes()
        for name, path in found.items()
        if not any(part == "__pycache__" or part.startswith(".") for part in name.parts)
    }


def told_folders(path: Path) -> list[Path]:
    """Where a Python that finds `pricing` first in `path` says that `sample_catalog` and `templates` lie."""
    command = [sys.executable, "-I", "-c", TELL_FOLDERS, str(path)]
    told = subprocess.run(command, capture_output=True, text=True, check=True)
    return [Path(line) for line in told.stdout.splitlines()]


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory) -> Path:
    """The source archive, built and unpacked, with a file of known name added to each shipped folder."""
    archive = build(CHECKOUT, "sdist", tmp_path_factory.mktemp("sdist"))
    place = tmp_path_factory.mktemp("unpacked")
    with tarfile.open(archive) as opened:
        opened.extractall(place, filter="data")
    source = place / f"troytag-{pricing.__version__}"
    for folder in SHIPPED:
        deep = source / folder / "planted"
        deep.mkdir(parents=True)
        (deep / "seed.txt").write_text(folder)
    return source


@pytest.fixture(scope="module")
def wheel(unpacked, tmp_path_factory) -> Path:
    return build(unpacked, "wheel", tmp_path_factory.mktemp("wheel"))


def test_the_source_archive_holds_all_that_the_checkout_shows(unpacked):
    packaging = [f".packaging/{each.name}" for each in (CHECKOUT / ".packaging").iterdir() if each.is_file()]
    assert len(packaging) >= 4
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE", ".ci/run", *packaging):
        assert (unpacked / name).read_bytes() == (CHECKOUT / name).read_bytes()
    for folder in ("pricing", "tests", *SHIPPED):
        packed = files_below(unpacked / folder)
        packed.pop("planted/seed.txt", None)
        assert packed == files_below(CHECKOUT / folder)


def test_the_wheel_holds_the_package_with_both_folders_in_it_and_nothing_else(unpacked, wheel):
    expected = {f"pricing/{name}": content for name, content in files_below(unpacked / "pricing").items()}
    for folder in SHIPPED:
        expected |= {f"pricing/{folder}/{name}": content for name, content in files_below(unpacked / folder).items()}
    with zipfile.ZipFile(wheel) as opened:
        packed = {name: opened.read(name) for name in opened.namelist()}
    description = f"troytag-{pricing.__version__}.dist-info/"
    assert {name: content for name, content in packed.items() if not name.startswith(description)} == expected
    assert packed["pricing/templates/planted/seed.txt"] == b"templates"
    assert b"troytag = pricing.cli.main:main" in packed[description + "entry_points.txt"]
    assert packed[description + "licenses/LICENSE"] == (CHECKOUT / "LICENSE").read_bytes()


def test_an_installed_wheel_finds_both_folders_inside_the_package(wheel, tmp_path):
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-compile", "--no-deps", "--no-index"]
    subprocess.run([*pip, "--target", str(tmp_path), str(wheel)], check=True)
    assert told_folders(tmp_path) == [tmp_path / "pricing" / folder for folder in SHIPPED]


def test_an_unpacked_source_archive_finds_both_folders_beside_the_package(unpacked):
    assert told_folders(unpacked) == [unpacked / folder for folder in SHIPPED]


def test_an_editable_installation_has_no_copies(unpacked, tmp_path):
    with zipfile.ZipFile(build(unpacked, "wheel:editable", tmp_path)) as opened:
        names = [name for name in opened.namelist() if ".dist-info/" not in name]
        assert len(names) == 1 and names[0].endswith(".pth")
        assert opened.read(names[0]).decode().strip() == str(unpacked)


def test_a_missing_folder_is_told_with_its_mend(monkeypatch, tmp_path):
    (tmp_path / "pricing" / "templates").mkdir(parents=True)
    monkeypatch.setattr(resources, "__file__", str(tmp_path / "pricing" / "resources.py"))
    assert resources.templates() == tmp_path / "pricing" / "templates"
    with pytest.raises(TroytagError, match=r"pricing: the folder sample_catalog .* missing\. Install troytag again\."):
        resources.sample_catalog()


#: The compiler (a machine has one, or does without), and what weighs as much as all others together.
NOT_IN_ALL = ("cluster", "compiled", "parquet")


def test_all_takes_every_extra_and_the_test_group_mirrors_the_test_extra():
    extras = dict(PROJECT["optional-dependencies"])
    for name in NOT_IN_ALL:
        assert extras.pop(name)
    groups = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["dependency-groups"]
    assert extras.pop("test") == groups["test"]
    assert extras.pop("all") == [f"troytag[{','.join(sorted(extras))}]"]


def test_whatever_the_code_imports_is_declared():
    requirements = [*PROJECT["dependencies"]]
    for name, extra in PROJECT["optional-dependencies"].items():
        if name not in ("all", "test"):
            requirements += extra
    declared = {canonicalize_name(Requirement(requirement).name) for requirement in requirements}
    distributions = packages_distributions()
    undeclared = []  # a module that no distribution claims (one compiled file) is taken to bear its distribution's name
    for file in sorted((CHECKOUT / "pricing").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Import):
                modules = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                modules = [node.module]
            else:
                continue
            for module in {module.split(".")[0] for module in modules} - sys.stdlib_module_names - {"pricing"}:
                if not declared & {canonicalize_name(name) for name in distributions.get(module, [module])}:
                    undeclared.append(f"{file.relative_to(CHECKOUT)}:{node.lineno} {module}")
    assert undeclared == []


def test_ci_runs_the_readme_s_test_command_as_it_is_printed():
    shown = subprocess.run([CHECKOUT / ".ci" / "run", "--show"], capture_output=True, text=True, check=True).stdout
    assert "\n```sh\n" + shown + "```\n" in (CHECKOUT / "README.md").read_text()
    assert "'.[all,test]'" in shown and "-m pytest" in shown


# ---- what was tested together


def pins(text: str) -> dict[str, Requirement]:
    """The lines of `tested.txt` by name; each is one exact version, whatever place it came from."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    found = {canonicalize_name((pin := Requirement(line)).name): pin for line in lines}
    assert len(found) == len(lines) and list(found) == sorted(found)
    for line, pin in zip(lines, found.values(), strict=True):
        assert [each.operator for each in pin.specifier] == ["=="] and pin.url is None, line
        assert "--" not in line and "/" not in line, line
    return found


def asked_by_the_project() -> list[Requirement]:
    """What the README's commands install."""
    extras = {name: lines for name, lines in PROJECT["optional-dependencies"].items() if name not in NOT_IN_ALL}
    lists = (PROJECT["dependencies"], *extras.values())
    return [asked for lines in lists for line in lines if (asked := Requirement(line)).name != "troytag"]


def test_all_that_is_asked_for_was_tested_within_its_range():
    tested = pins((CHECKOUT / ".packaging" / "tested.txt").read_text())
    for asked in asked_by_the_project():
        (exact,) = tested[canonicalize_name(asked.name)].specifier
        assert asked.specifier.contains(exact.version), asked


def test_every_command_installs_what_was_tested():
    installing = [line for line in (CHECKOUT / "README.md").read_text().splitlines() if "pip install -q" in line]
    assert len(installing) == 4  # to try it and to test it, on Windows too
    assert all("pip install -q -c .packaging/tested.txt -e " in line for line in installing)


def test_an_environment_is_frozen_as_it_is():
    """Against pip's own list of what is here; what a package of ours needs in turn is among it."""
    script = CHECKOUT / ".packaging" / "freeze_tested.py"
    printed = subprocess.run([sys.executable, script, "--print"], capture_output=True, text=True, check=True).stdout
    frozen = pins(printed)
    here = [asked for asked in asked_by_the_project() if asked.marker is None or asked.marker.evaluate()]
    assert {canonicalize_name(asked.name) for asked in here} <= set(frozen)
    assert {"markupsafe", "pydantic-core", "iniconfig"} <= set(frozen)  # of jinja2, pydantic, pytest
    assert not {"pip", "troytag"} & set(frozen)
    for name, pin in frozen.items():
        assert pin.specifier.contains(version(name)), name
    assert frozen["numpy"].marker is None
    assert "embreex" not in frozen or "platform_machine" in str(frozen["embreex"].marker)  # it is bound to platforms
