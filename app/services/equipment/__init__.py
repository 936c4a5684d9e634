"""The register of instruments.

`register` what each is and where it is, `enter` what people say of it; `calibrations` what was
found and until when; `fitness` whether one was in date on a day; `naming` which instrument an entry
was made with, `uses` what to say of it then; `tables` what people see and a phone carries.
"""
