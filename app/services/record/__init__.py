"""The long record as charts, tables and exports."""
