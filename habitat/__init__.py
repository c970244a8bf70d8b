"""Habitat: what the layers mean for a large shallow-water grazing mammal."""
