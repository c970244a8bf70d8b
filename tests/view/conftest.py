"""The small site with a catchment, mapped once for all tests of the page of water and light."""

import pytest

from habitat.site_map import map_site
from habitat.view.chain import chain_of
from tests.view.shoreland import write_shore_site


@pytest.fixture(scope="session")
def chain(tmp_path_factory):
    """Its chain."""
    return chain_of(map_site(write_shore_site(tmp_path_factory.mktemp("shore") / "site").parent))
