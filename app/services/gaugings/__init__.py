"""Check gaugings worked out from what was observed, judged, listed."""
