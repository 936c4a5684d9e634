"""What templates make of text."""

from app.web.render import whole_dates


def test_a_date_stays_whole_and_text_stays_text() -> None:
    said = str(whole_dates("<b> due 2026-09-17, no 12-2026-09-170"))
    assert said == '&lt;b&gt; due <span class="when">2026-09-17</span>, no 12-2026-09-170'
