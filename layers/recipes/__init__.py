"""How each layer is made from the files of a site and from other layers, topic by topic."""
