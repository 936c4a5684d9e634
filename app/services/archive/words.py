"""README.txt of the archive: what is in it, in plain words."""

from app.services.archive.contents import CARRIED, FORMAT, LEFT_OUT, WITHHELD

INVENTED = """
INVENTED DATA: this archive holds a demonstration. Its places, people and figures are invented.
"""
TEXT = """The whole record of measuring flumes, taken out of Sillbook in one file
=======================================================================
{invented}
This archive certifies nothing. The figures are as people and instruments gave them and as the
program worked them out; who answers for them stands beside them, not here. The sums of the files
(SHA-256) in manifest.json show damage. They are no seal: whoever changes a file can change its
sum too.

What is in it
-------------
manifest.json   form of the archive ({form}), what made it, when, the revision of its tables, how
                many rows each table has, size and SHA-256 of every other file.
rows/           every table, one file each, one row a line (JSON, UTF-8). Field entries stand in
                rows/entry.jsonl with their body as it was sent; refused ones in
                rows/refused_entry.jsonl, whole; who changed what in the office in
                rows/audit_entry.jsonl. A correction is a new row that names the one it corrects.
originals/      logger files, photos and certificates as they are kept, to the byte. The name is the
                SHA-256 of the content; rows/kept_file.jsonl says what each one is.
lists/          the lists of the pages as CSV (RFC 4180, UTF-8, comma, one line of heads). Beside
                each stands a description of its columns, types and units
                (CSV on the Web, W3C 2015): NAME.csv-metadata.json. The number in a name is the id
                of the site or structure; lists/sites.csv says which one it is.

How to read it
--------------
Any unzip program and any reader of CSV or JSON will do. Lengths are metres, discharges m3/s,
volumes m3; the end of a name says the unit (head_m, discharge_m3s, uncertainty_pct). Uncertainties
are expanded, k = 2 (about 95 %). Instants are ISO 8601 in UTC and end in Z; names that end in _s
are seconds since 1970-01-01 UTC. A site's own time is UTC plus its utc_offset_min, all year. null,
or an empty cell, is a value that is not known; no flow is 0. Bytes inside of rows are base64; what
they hold as numbers stands readable in lists/series-structure-N.csv.

Worked out from the rest, and carried as it was seen, so that what was approved stays what was
approved:
{derived}

What is not in it
-----------------
{missing}

Taking it in
------------
sillbook archive in FILE --data FOLDER, or the page "Archive" of a database in which nothing is on
record yet. Every file is compared with its sum and every row is read before anything is stored;
then all of it is stored, or nothing. Derived rows are worked out again and differences are listed.
People come without passwords: sillbook person password NAME sets a new one.
"""


def readme(invented: bool) -> str:
    """Return the text of README.txt."""
    missing = [*LEFT_OUT.items(), *((".".join(key), why) for key, why in WITHHELD.items())]
    return TEXT.format(
        invented=INVENTED if invented else "",
        form=FORMAT,
        derived="\n".join(f"  {name}: {what}" for name, what in CARRIED.items()),
        missing="\n".join(f"  {name}: {why}" for name, why in missing),
    )
