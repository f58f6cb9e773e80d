"""Power per line and auditory band, from mix, stems or score."""
