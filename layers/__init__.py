"""Layers: what is there. Files are read, checked and derived into labelled grids."""

__version__ = "0.1.0"
