"""Layers: what is there. Files are read, checked and derived into labelled grids."""
