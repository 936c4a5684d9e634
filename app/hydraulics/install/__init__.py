"""Installing: tolerances checked, groundwork, height of the sill, the stilling well."""
