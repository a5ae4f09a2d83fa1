"""What is measured on muscle: maxima, spectra, fatigue, co-contraction."""
