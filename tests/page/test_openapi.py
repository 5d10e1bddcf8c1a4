"""Whatever is sent to the described API, each answer is one that the description has (schemathesis checks it)."""

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.page.exams import fill
from tests.page.served import Served, serve
from voicelog.record.journal import Journal

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
OTHERWISE = ("/enter", "/api/leaving")
"""test_access.py has the passphrase, which makes its address wait; who has left is refused everywhere."""
NO_SHRINKING = (Phase.explicit, Phase.generate)


@contextmanager
def described() -> Iterator[tuple[Served, schemathesis.BaseSchema]]:
    """A page with a record and an exam, and its description as it is served."""
    with Journal.open() as journal:
        exam = fill(journal)
    with serve() as served:
        served.exam = exam
        headers = {"Cookie": served.cookie, "Origin": served.server.origin}
        yield (
            served,
            schemathesis.openapi.from_url(
                f"{served.server.origin}{served.base}/openapi.json", headers=headers
            ),
        )


def hammer(count: int, modes: tuple[GenerationMode, ...]) -> int:
    """Send so many requests of each mode to each operation; how many were sent."""
    sent = 0
    with described() as (served, schema):
        headers = {"Cookie": served.cookie, "Origin": served.server.origin}
        exams = st.sampled_from([served.exam, "last", "20200101-aaaaaaaa"])
        for operation, mode in itertools.product(schema.get_all_operations(), modes):
            assert isinstance(operation, Ok)
            made = operation.ok()
            if made.path in OTHERWISE or (mode is GenerationMode.NEGATIVE and not takes_anything(made)):
                continue

            @settings(
                max_examples=count,
                deadline=None,
                database=None,
                derandomize=True,
                phases=NO_SHRINKING,
                suppress_health_check=list(HealthCheck),
            )
            @given(case=made.as_strategy(generation_mode=mode), exam=exams, known=st.booleans())
            def send(case: schemathesis.Case[Any], exam: str, known: bool) -> None:
                nonlocal sent
                if known and "exam" in (case.path_parameters or {}):
                    case.path_parameters["exam"] = exam
                answer = case.call(headers=headers, timeout=20)
                sent += 1
                case.validate_response(answer, checks=CHECKS)

            send()
    return sent


def takes_anything(operation: Any) -> bool:
    return bool(operation.body or operation.query or operation.path_parameters)


def test_every_answer_is_as_described() -> None:
    assert hammer(4, (GenerationMode.POSITIVE,)) >= 60


@pytest.mark.sweep
def test_every_answer_is_as_described_however_many() -> None:
    """Requests that fit the description, and as many that do not."""
    assert hammer(200, tuple(GenerationMode)) >= 4000


def test_the_description_needs_the_token_too() -> None:
    with serve() as served:
        assert served.ask("/openapi.json", token=None).status == 403
        assert served.ask("/openapi.json").json()["info"]["title"] == "voicelog's local page"
