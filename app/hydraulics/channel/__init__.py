"""The race: shapes of sections, critical and uniform flow, tail levels."""
