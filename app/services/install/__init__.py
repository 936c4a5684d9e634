"""Installing and opening: stops, as built, the opening sheet, their page."""
