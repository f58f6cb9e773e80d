"""Reading the page: notes, bars, parts, instruments."""
