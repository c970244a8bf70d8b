"""An invented site with a story, written as real files in the formats people have."""

from layers.demo.folder import write_demo

__all__ = ["write_demo"]
