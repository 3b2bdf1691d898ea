"""The demo's sheets, made once for all tests that only read them."""

import pytest

from seed_demo.generate import generate, randomness
from seed_demo.world import world


@pytest.fixture(scope="session")
def demo():
    return generate(world(), randomness(world()))
