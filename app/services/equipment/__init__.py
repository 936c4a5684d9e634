"""The register of instruments.

`register` what each is and where it is; `calibrations` what was found and until when; `fitness`
whether one was in date on a day; `naming` which instrument an entry was made with; `tables`,
`page` what people see.
"""
