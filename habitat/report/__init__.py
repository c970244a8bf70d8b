"""Reports: maps to print and the folder of results. Drawing on paper lives here, pages in `habitat.view`."""
