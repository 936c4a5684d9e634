"""Heads to discharge: free and drowned flow, uncertainty, the phone's table, fits, tests."""
