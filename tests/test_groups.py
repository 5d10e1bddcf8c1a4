"""A run of several processes keeps files whole, or long fixtures are made in each of them."""

import os

import pytest


@pytest.mark.skipif("PYTEST_XDIST_WORKER" not in os.environ, reason="one process runs all tests")
def test_a_file_is_one_group(request: pytest.FixtureRequest) -> None:
    assert request.node.nodeid.endswith("@tests/test_groups.py")
