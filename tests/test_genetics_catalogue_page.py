"""The published list of genes is the one that the data gives."""

from __future__ import annotations

import re
from pathlib import Path

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.page import genes_page, main
from brumal.genetics.notation.parse import parse_morph
from brumal.records.faults import Severity

PAGE = Path(__file__).parents[1] / "docs" / "genes.md"


def test_the_page_is_current(tmp_path: Path) -> None:
    """Write it anew with ``python -m brumal.genetics.catalogue.page docs/genes.md``."""
    main([str(tmp_path / "genes.md")])
    assert (tmp_path / "genes.md").read_bytes() == PAGE.read_bytes()


def test_the_page_names_every_entry() -> None:
    catalogue, _ = load_catalogue()
    page = genes_page(catalogue)
    for name in (*catalogue.alleles, *catalogue.combinations):
        assert f"\n| {name} |" in page
    for mask in catalogue.masks:
        assert mask.note in page
    for note in catalogue.welfare:
        assert note.text in page
    for mark in re.findall(r"\[(\d+)\]", page):
        assert f"\n{mark}. " in page


def test_every_example_of_notation_is_read() -> None:
    rows = re.findall(r"^\| `(.+)` \| .+ \| `(.+)` \|$", PAGE.read_text("utf-8"), re.MULTILINE)
    assert len(rows) == 19
    catalogue, _ = load_catalogue()
    for text, canonical in rows:
        assert parse_morph(text, catalogue) == parse_morph(canonical, catalogue)
        assert parse_morph(text, catalogue)[0] is not None


def test_the_example_on_the_page_is_right() -> None:
    (example,) = re.findall(r"```yaml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)
    _, faults = load_catalogue(example)
    assert {fault.severity for fault in faults} == {Severity.NOTICE}
