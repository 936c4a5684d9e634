"""Sillbook: field book and flow record of measuring flumes.

Four floors, imports only point down: hydraulics (numpy in, numpy out), records (tables and the
database), services (what people do), web and commands (HTTP and the command line).
"""

__version__ = "0.2.0"
