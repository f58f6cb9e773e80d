"""How instruments sound: spectra by pitch, dynamic and age of the note."""
