"""The page of water and light: how what is done on land reaches the grazing, step by step, and how sure that is."""

from __future__ import annotations

from functools import partial

import numpy as np
import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.site_map import SiteMap
from habitat.view import chain_words, maps, theme
from habitat.view.address import keep_address, view_of_address
from habitat.view.chain import Chain, chain_of
from habitat.view.chain_cards import chain_cards, layer_of
from habitat.view.controls import place_inputs, season_select
from habitat.view.doubt_cards import doubt_part, method_of
from habitat.view.frame import whole_page
from habitat.view.ladder_chart import LADDER_CSS, ladder_chart
from habitat.view.legends import layer_legend
from habitat.view.map_cards import MapTable, map_card
from habitat.view.overview import first_view
from habitat.view.session import Picture, Session, View
from layers.light import NOT_INTERCHANGEABLE

LEAD = "How does what is done on the land reach the grazing in the water, and how sure is each step?"

CONCLUSIONS = Markup(
    "<h2>What we may and may not conclude</h2>"
    "<p><strong>We may</strong> say which step a change starts from, which outlet or work weighs most on a place, and "
    "where light is too short for the seagrass that was mapped.</p>"
    "<p><strong>We may not</strong> take a steady mean over the depth for the day of a flood, a screening of dredge "
    "fines for a permit, or a class of land cover for what was measured in its creek. Loads of the dry season come "
    "from runoff alone and leave out groundwater, which may then bring most.</p>"
    "<p>{}</p>"
).format(NOT_INTERCHANGEABLE)


def water_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("water", LEAD, _body)


def _body(site_map: SiteMap) -> list[object]:
    chain = chain_of(site_map)
    session = Session(site_map, view_of_address(first_look(chain), site_map), assess)
    keep_address(session)
    table = MapTable(session, with_zones=False)
    season = season_select(session, chain.seasons)
    guide = Markup(
        "<p>Five steps, each made from the one before. Click any map of the water: the numbers behind that place stand "
        "below, rung by rung.</p>"
    )
    place = theme.card(
        theme.text(Markup("<h2>The numbers behind this place</h2>")),
        place_inputs(session),
        theme.text(
            pn.bind(
                lambda picture, place: ladder_chart(chain, picture.season, place),
                session.param.picture,
                session.param.place,
            ),
            css=LADDER_CSS,
        ),
    )
    ending = [theme.card(theme.text(CONCLUSIONS))]
    if chain.works:
        ending.insert(0, _dredge_card(chain, session, table))
    return [
        theme.grid(*([season] if season else []), theme.text(guide), least=300, align="end"),
        *chain_cards(chain, session, table),
        table.thinning_note(),
        place,
        *doubt_part(chain, session, table),
        theme.grid(*ending, least=420, align="start"),
    ]


def first_look(chain: Chain) -> View:
    """What a visitor sees first: the place where the light takes most of the seagrass that was mapped."""
    view = first_view(chain.site_map)
    season = view.season or (chain.seasons[0] if chain.seasons else None)
    cover, kept = chain.layer("seagrass_cover", season), chain.layer("forage", season)
    place = view.place
    if cover is not None and kept is not None:
        lost = cover.to_numpy() - kept.to_numpy()
        if np.nanmax(lost, initial=0) > 0:
            row, column = np.unravel_index(int(np.nanargmax(lost)), lost.shape)
            place = round(float(cover["x"][column])), round(float(cover["y"][row]))
    return View(profile=view.profile, season=season, place=place)


def _dredge_card(chain: Chain, session: Session, table: MapTable) -> pn.Column:
    about = "Fines in the water while the dredges of the season dig, all at once. Dashed: what is dug."
    if "dredge_plume" not in chain.layers:
        note = Markup("<p>{}</p>").format(chain_words.absence_sentence(chain, "dredge_plume"))
        return map_card("While it digs", about, theme.text(note), Markup(""), Markup(""))
    import geopandas as gpd

    footprints = gpd.GeoSeries([work.footprint for work in chain.works], crs=table.grid.crs)

    def words(picture: Picture) -> Markup:
        said = Markup("<p>{}</p>").format(chain_words.dredge_sentence(chain, picture.season))
        if not chain.works_in(picture.season):
            return said
        return said + Markup('<p class="quiet">{}.</p>').format(method_of(chain, "dredge_plume", picture.season))

    return map_card(
        "While it digs",
        about,
        table.map(partial(layer_of, chain, "dredge_plume"), over=(maps.outlines(footprints, table.grid),)),
        layer_legend(chain.layers["dredge_plume"]),
        pn.bind(words, session.param.picture),
    )
