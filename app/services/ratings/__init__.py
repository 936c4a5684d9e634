"""A rating as a curve, its volumes, and rating once without a site."""
