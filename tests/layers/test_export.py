import numpy as np
import pandas as pd
import pytest

from layers import export
from layers.fault import RecordError


def test_a_table_is_plain_csv_with_an_empty_field_where_there_is_no_data(tmp_path):
    table = pd.DataFrame({"zone": ["Båt, net", "b"], "hectares": [1 / 3, np.nan]})
    export.write_table(table, tmp_path / "hectares.csv")
    assert (tmp_path / "hectares.csv").read_bytes() == 'zone,hectares\n"Båt, net",0.3333333333\nb,\n'.encode()


def test_an_existing_table_is_not_overwritten(tmp_path):
    (tmp_path / "a.csv").write_text("mine")
    with pytest.raises(RecordError, match=r"a\.csv: exists already\."):
        export.write_table(pd.DataFrame({"a": [1]}), tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_text() == "mine"


def test_what_is_exported_is_what_other_modules_write():
    assert all(callable(getattr(export, name)) for name in export.__all__)
