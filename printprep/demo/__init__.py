"""A scene of our own, painted by procedure, to see the whole job on."""
