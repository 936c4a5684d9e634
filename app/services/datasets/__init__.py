"""The record on its way out in open standards: what can be taken, in which format, with a codebook.

`parts` names the tables of a site; `codebook` says what every column and word means; `bundle` packs
tables with their descriptions; a file each for WaterML, GeoJSON, Parquet and NetCDF.
"""
