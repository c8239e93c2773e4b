"""The catalogue of a store as pages: facts of profiles in, HTML and its search index out."""
