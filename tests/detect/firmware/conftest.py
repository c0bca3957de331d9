import pytest


@pytest.fixture
def no_skipping_here():
    pytest.fail("a tool this test needs is missing, and PLUMBFALL_CI=1 allows no skipping")
