"""The page of water and light as a whole, also where a site gives little of it."""

import numpy as np
import panel as pn

from habitat.site_map import map_site
from habitat.view import water
from habitat.view.chain import chain_of
from habitat.view.host import prepare
from layers.light import NOT_INTERCHANGEABLE
from tests import sites

prepare()


def texts_of(parts):
    """Everything the parts of a page say, and how many maps they draw."""
    root = pn.Column(*parts)
    root.get_root()
    said = [widget.value for widget in root.select(pn.widgets.StaticText)]
    return " ".join(map(str, said)), len(list(root.select(pn.pane.HoloViews)))


def site_with(folder, *tables):
    path = sites.write_small_site(folder)
    path.write_text(sites.site_text({name: sites.TABLES[name] for name in tables}), encoding="utf-8")
    return map_site(path.parent)


def test_a_whole_site_has_all_five_steps_its_points_and_its_works(chain):
    said, maps = texts_of(water._body(chain.site_map))
    assert maps == 8
    for number, word in enumerate(("Land cover", "Load of nitrogen", "Plume", "Light", "Forage"), start=1):
        assert f'<span class="step">{number}</span> {word}' in said
    for words in ("The numbers behind this place", "Its standard error", "While it digs", "leave out groundwater"):
        assert words in said
    assert NOT_INTERCHANGEABLE in said


def test_it_begins_where_the_light_takes_most_of_the_seagrass(chain):
    place = water.first_look(chain).place
    cell = chain.site_map.inputs.site.grid.cell_at(*place)
    lost = chain.layer("seagrass_cover", "wet").to_numpy() - chain.layer("forage", "wet").to_numpy()
    assert lost[cell] == np.nanmax(lost) > 0


def test_a_site_of_land_and_bed_alone_gets_notes_instead_of_maps(tmp_path):
    said, maps = texts_of(water._body(site_with(tmp_path / "site", "coast", "bed", "tide")))
    assert "This site has no catchment" in said
    assert "No file gives the nitrogen of an outlet" in said
    assert "This site cannot give nitrogen concentration." in said
    assert "This site cannot give forage." in said
    assert "No soundings and no stations lie in this site" in said
    assert "While it digs" not in said
    # solids and chlorophyll are taken from the site file, so light is known all the same
    assert maps == 1


def test_a_site_without_a_tide_or_works_is_drawn_as_far_as_it_goes(tmp_path):
    found = site_with(tmp_path / "site", "coast", "bed", "outlets", "seagrass", "salinity")
    said, maps = texts_of(water._body(found))
    assert "The one outlet brings nitrogen at a rate of 12 t a year." in said
    assert "While it digs" not in said
    assert chain_of(found).works == ()
    assert maps == 6


def test_the_other_shipped_profile_gives_the_page_too(tmp_path):
    path = sites.write_small_site(tmp_path / "site")
    said, maps = texts_of(water._body(map_site(path.parent, "estuarine_grazer")))
    assert "Load of nitrogen" in said
    assert maps == 7
