"""Which settings exist, where they live and how well that is known, at any firmware."""
