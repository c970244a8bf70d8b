"""Years of a proposal, held to the interval formula and to its integral."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.integrate import quad

from habitat.appraisal_years import Course, year_tables, zone_years

COURSE = Course(construction=2.0, recovery=None, period=10.0)


def _site(cells: int):
    scores = xr.DataArray(np.full((1, cells), 0.5, np.float32), dims=("y", "x"))
    grid = SimpleNamespace(cell_hectares=1.0)
    return SimpleNamespace(assessment={"suitability": scores}, inputs=SimpleNamespace(site=SimpleNamespace(grid=grid)))


def test_a_mean_year_is_the_integral_of_what_is_lost():
    # 100 ha of 0.8 fall in a straight line to 0.2 in the first year (works are felt in full by then), and stay there
    units = pd.DataFrame(
        [{"season": "", "units_before": 80.0, "units_after": 20.0, "spared_before": 40.0, "spared_after": 40.0}]
    )
    targets, years = year_tables(units, _site(100), COURSE)
    lost, _ = quad(lambda year: 60 * min(year, 1), 0, 10, points=[1])
    assert years.loc[0, "net_annual_units"] == pytest.approx(-lost / 10)
    assert years.loc[0, "net_annual_spared"] == pytest.approx(0)
    with_project = targets[targets["project"] == "with"]
    assert (with_project["year"].min(), with_project["year"].max()) == (0, 10)
    np.testing.assert_allclose(with_project["units"], 80 - 60 * np.minimum(with_project["year"], 1))
    np.testing.assert_allclose(with_project["hectares"] * with_project["index"], with_project["units"])


def test_what_threat_leaves_is_not_known_over_the_years_where_it_is_not_known():
    row = {"season": "", "units_before": 80.0, "units_after": 20.0, "spared_before": np.nan, "spared_after": np.nan}
    _, years = year_tables(pd.DataFrame([row]), _site(100), COURSE)
    assert np.isnan(years.loc[0, "net_annual_spared"])


def test_zones_share_the_loss_of_the_site():
    rows = [
        ("north", "", "suitability", "good habitat", 60.0, 48.0, 60.0, 12.0),
        ("south", "", "suitability", "fair habitat", 40.0, 32.0, 40.0, 8.0),
        ("south", "", "suitability", "no data", 5.0, np.nan, 5.0, np.nan),
        ("south", "", "threat", "low threat", 40.0, 32.0, 40.0, 1.0),
    ]
    columns = ["zone", "season", "kind", "class", "hectares_before", "units_before", "hectares_after", "units_after"]
    found = zone_years(pd.DataFrame(rows, columns=columns), COURSE).set_index("zone")["net_annual_units"]
    assert found["north"] == pytest.approx(-36 * 0.95)
    assert found["south"] == pytest.approx(-24 * 0.95)
    assert zone_years(pd.DataFrame(), COURSE).empty
