"""The geometry of plugs: where pins stand, and how a housing can sit on them. Names and numbers only."""
