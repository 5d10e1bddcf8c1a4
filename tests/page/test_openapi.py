"""Whatever is sent to the described API, it never breaks (schemathesis, from the OpenAPI description)."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.core.result import Ok

from tests.page.exams import fill
from tests.page.served import Served, serve
from voicelog.record.journal import Journal

NO_SHRINKING = (Phase.explicit, Phase.generate)


@contextmanager
def described() -> Iterator[tuple[Served, schemathesis.BaseSchema]]:
    """A page with a record and an exam, and its description as it is served."""
    with Journal.open() as journal:
        exam = fill(journal)
    with serve() as served:
        served.exam = exam
        access = served.server.page.access
        headers = {"Cookie": f"{access.cookie}={access.token}", "Origin": served.server.origin}
        yield served, schemathesis.openapi.from_url(f"{served.server.origin}/openapi.json", headers=headers)


def hammer(count: int) -> int:
    """Send so many generated requests to each operation, of the record's exams too; how many were sent."""
    sent = 0
    with described() as (served, schema):
        access = served.server.page.access
        headers = {"Cookie": f"{access.cookie}={access.token}", "Origin": served.server.origin}
        exams = st.sampled_from([served.exam, "last", "20200101-aaaaaaaa"])
        for operation in schema.get_all_operations():
            assert isinstance(operation, Ok)
            made = operation.ok()
            if made.path == "/enter":
                continue  # it waits a second for each wrong passphrase; test_access.py has it

            @settings(
                max_examples=count,
                deadline=None,
                database=None,
                derandomize=True,
                phases=NO_SHRINKING,
                suppress_health_check=list(HealthCheck),
            )
            @given(case=made.as_strategy(), exam=exams, known=st.booleans())
            def send(case: schemathesis.Case[Any], exam: str, known: bool) -> None:
                nonlocal sent
                if known and "exam" in (case.path_parameters or {}):
                    case.path_parameters["exam"] = exam
                answer = case.call(headers=headers, timeout=20)
                sent += 1
                assert answer.status_code < 500, (
                    case.as_curl_command(),
                    answer.text,
                )

            send()
    return sent


def test_no_request_breaks_it() -> None:
    assert hammer(8) >= 80


@pytest.mark.sweep
def test_no_request_breaks_it_however_many() -> None:
    assert hammer(400) >= 4000


def test_the_description_needs_the_token_too() -> None:
    with serve() as served:
        assert served.ask("/openapi.json", token=None).status == 403
        assert served.ask("/openapi.json").json()["info"]["title"] == "voicelog's local page"
