"""The data kept safe: backup, restore, the epoch."""
