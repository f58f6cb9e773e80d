"""From line spectra to what a listener hears."""
