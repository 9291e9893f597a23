"""welkinwell: from a site and a demand to a water-from-air design that can be defended."""
