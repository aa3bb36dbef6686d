"""The documentation names what there is; `poe docs` builds it and fails on warnings."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path

import pytest
from pathways_cli.main import VERBS

import pathways
from pathways.features import LAYERS, fields_of
from pathways.io.rulebooks import rulebook_names
from pathways.settings import Settings
from pathways.terrain.pathway import OUTCOMES

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))


def page(name):
    return (DOCS / f"{name}.md").read_text("utf-8")


def commands(name):
    """The lines of a file's shell blocks, comments left out."""
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / name).read_text("utf-8"), re.DOTALL)
    lines = [
        line.split("#")[0].strip() for block in blocks for line in block.split("\n")
    ]
    return [line for line in lines if line]


@pytest.fixture(scope="module")
def tables():
    spec = importlib.util.spec_from_file_location(
        "farm_tables", DOCS / "farm_tables.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# What the pages name ------------------------------------------------------------------


@pytest.mark.parametrize("layer", LAYERS)
def test_guide_has_a_section_and_a_table_for_each_layer(layer):
    assert f"\n### `{layer}`\n" in page("guide")
    assert f"```{{farm-table}} layer {layer}\n```" in page("guide")


@pytest.mark.parametrize("layer", LAYERS)
def test_table_of_a_layer_has_each_field_and_choice(tables, layer):
    table = tables.layer(layer)
    for one in fields_of(layer):
        assert f"| `{one.name}` | {one.metadata['about']} |" in table
        for choice in one.metadata["choices"]:
            assert f"`{choice}`" in table


@pytest.mark.parametrize("layer", LAYERS)
def test_table_of_a_layer_says_which_fields_may_not_be_empty(tables, layer):
    refused = re.findall(r"^\| `(\w+)` .*\| refused \|$", tables.layer(layer), re.M)
    assert set(refused) == set(LAYERS[layer].required)


def test_table_of_settings_has_each_key(tables):
    table = tables.settings("")
    for name, inner in Settings.model_fields.items():
        for key in inner.annotation.model_fields:
            assert f"| `[{name}]` | `{key}` |" in table


def test_table_of_outcomes_is_worst_first(tables):
    places = [tables.outcomes("").index(f"| `{one}` |") for one in OUTCOMES]
    assert places == sorted(places)


@pytest.mark.parametrize("verb", VERBS)
def test_guide_names_each_verb(verb):
    assert re.search(rf"^\| `pathways {verb}\b[^`]*` \| \w", page("guide"), re.M)


@pytest.mark.parametrize("name", rulebook_names())
def test_rules_page_shows_each_rulebook(name):
    assert f"```{{farm-table}} rulebook {name}\n```" in page("rules")


def test_interface_page_describes_exactly_the_public_names():
    described = re.findall(r"^\.\. auto\w+:: pathways\.(\w+)$", page("api"), re.M)
    assert sorted(described) == pathways.__all__


def test_each_page_is_in_a_table_of_contents():
    listed = re.findall(r"^([\w/]+)$", page("index"), re.M)
    pages = {one.stem for one in DOCS.glob("*.md")} - {"index"}
    assert pages | {"decisions/index"} == set(listed)


def test_each_decision_is_listed_in_its_index():
    listed = re.findall(r"^(\d{4}-[\w-]+)$", page("decisions/index"), re.M)
    written = sorted(one.stem for one in (DOCS / "decisions").glob("0*.md"))
    assert listed == written


@pytest.mark.parametrize("path", sorted((DOCS / "decisions").glob("0*.md")), ids=str)
def test_decision_tells_context_decision_and_what_follows(path):
    text = path.read_text("utf-8")
    assert text.startswith(f"# {int(path.stem[:4])}. ")
    order = [
        text.index(f"**{one}.**") for one in ("Context", "Decision", "What follows")
    ]
    assert order == sorted(order)


def test_validation_page_names_each_outside_check():
    for path in (ROOT / "tests" / "external").glob("test_*.py"):
        assert f"`tests/external/{path.name}`" in page("validation")


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "docs/validation.md"])
def test_files_that_a_page_names_exist(name):
    text = (ROOT / name).read_text("utf-8")
    named = re.findall(r"`((?:tests|docs|pathways|data-samples)/[\w./-]+)`", text)
    patterns = {
        "docs/_build",
        "docs/decisions/NNNN-what.md",
        "tests/external/data/NAME/",
    }
    missing = {one for one in named if not (ROOT / one).exists()}
    assert named
    assert missing <= patterns


# The two commands of the README -------------------------------------------------------


def test_readme_begins_with_two_commands():
    assert commands("README.md")[:2] == [
        "python3 -m venv .venv && .venv/bin/pip install -c constraints.txt . "
        "&& .venv/bin/pathways demo",
        "python3 -m venv .venv-test && . .venv-test/bin/activate && "
        "pip install -c constraints.txt -e '.[test,docs]' && poe all",
    ]


def test_commands_of_the_readme_name_what_there_is():
    first, second = commands("README.md")[:2]
    files = re.findall(r"-c (\S+)", f"{first} {second}")
    assert files
    assert all((ROOT / one).is_file() for one in files)
    extras = re.search(r"\[(.*)\]", second)[1].split(",")
    assert set(extras) <= set(PROJECT["project"]["optional-dependencies"])
    assert second.rsplit("poe ", 1)[1] in PROJECT["tool"]["poe"]["tasks"]


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_verb_in_a_shell_block_exists(name):
    verbs = re.findall(r"(?:^|[ /])pathways (\w+)", "\n".join(commands(name)), re.M)
    assert verbs
    assert set(verbs) <= set(VERBS)


def test_every_task_that_developers_are_told_of_exists():
    told = re.findall(r"`poe (\w+)`", (ROOT / "DEVELOPERS.md").read_text("utf-8"))
    assert set(told) == set(PROJECT["tool"]["poe"]["tasks"])
