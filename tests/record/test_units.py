"""The units of exports against UCUM itself: read and worked out by ucumvert, which is made from UCUM's own table (ucum-essence)."""

import ast
from pathlib import Path

import pytest
from lark.exceptions import UnexpectedInput
from ucumvert import PintUcumRegistry, get_ucum_parser

import voicelog
from voicelog.record.export.fhir_codes import UNITS

MEANT = {
    "[diop]": (1.0, "1/m"),
    "{cycles}/deg": (1.0, "1/degree"),
    "deg": (1.0, "degree"),
    "cm": (0.01, "m"),
    "mm": (0.001, "m"),
    "%": (0.01, ""),
    "min": (60.0, "s"),
    "a": (365.25 * 86400.0, "s"),
    "mo": (365.25 / 12 * 86400.0, "s"),
    "1": (1.0, ""),
}
"""What each code is used for. The prism dioptre is not here: UCUM's own factor for it is that of a tangent."""


def test_every_unit_is_a_code_of_ucum() -> None:
    parser = get_ucum_parser()
    for code in UNITS:
        parser.parse(code)
    for wrong in ("dptr", "[dio]", "cyc/deg", "degree"):
        with pytest.raises(UnexpectedInput):
            parser.parse(wrong)


def test_every_unit_is_the_one_that_is_meant() -> None:
    registry = PintUcumRegistry()
    assert {*MEANT, "[p'diop]"} == set(UNITS)
    for code, (value, unit) in MEANT.items():
        assert registry.from_ucum(code).to(unit).magnitude == pytest.approx(value, rel=1e-12), code


def test_every_unit_of_an_entry_has_its_name() -> None:
    """Whatever measured value an entry's source states, its unit is one of those."""
    used = set[str]()
    for path in (Path(voicelog.__file__).parent / "exam").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Quantity":
                used |= {
                    part.value
                    for part in ast.walk(node.args[2])
                    if isinstance(part, ast.Constant) and isinstance(part.value, str)
                }
    assert len(used) > 5
    assert used <= set(UNITS)
