"""A second reading of the design, made from its words alone, to hold the resolver against."""
