"""What a record holds, in words: for the command line and for pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from habitat.record_file import Record


def record_words(record: Record) -> str:
    """A summary as plain text: digest, who and when, grid, inputs and what is withheld, versions."""
    table, grid = record.table, record.table.grid
    made = {key: value for key, value in record.made.items() if value}
    withheld = [one for one in table.inputs if one.withheld]
    named = ("shallows", "python", "numpy", "numba", "GDAL")
    lines = [
        f"{record.name}: {table.title}, {'an appraisal' if table.appraisal else 'a map'} with {table.profile.title}",
        *(["INVENTED SITE - not a real place."] if table.invented else []),
        f"  digest    {record.root}",
        *(f"  {key:<9} {value}" for key, value in sorted(made.items())),
        f"  grid      {grid.rows} x {grid.columns} cells of {grid.cell:g} m, {grid.crs}",
        f"  inputs    {len(table.inputs)}, of which {len(withheld)} are not in it",
        *(f"            {one.file}: {one.withheld}; from {one.source} ({one.licence})" for one in withheld),
        f"  layers    {len(table.steps)}, cells kept of {sum(bool(one.raster) for one in table.steps)}",
        f"  results   {len(table.results)}, cells kept of {sum(bool(one.raster) for one in table.results)}",
        *(
            f"  proposal  {one.name}, {one.features} features"
            for one in (table.appraisal.proposals if table.appraisal else ())
        ),
        f"  versions  {', '.join(f'{name} {table.software[name]}' for name in named if name in table.software)}",
        f"  machine   {', '.join(table.machine.values())}",
        "Every member is what the list of members says. Whether that list is the one that was published, only its",
        "digest can tell: compare the one above with the one you were given.",
    ]
    return "\n".join(lines)
