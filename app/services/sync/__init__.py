"""The phone's road: accept with a receipt an entry, the pack, corrections made in the office."""
