"""Head readings: seen over the crest, rated, listed, shown, exported."""
