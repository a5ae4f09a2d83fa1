"""An open recording of biceps contractions to fatigue (biosignalsnotebooks 0.6.14, MIT), measured apart from the chain.

The expected figures were computed once with plain SciPy: 20-450 Hz, bursts longer than half a second, median
frequencies of the first and the last three. They depend on the bursts chosen and on the filter, hence a tenth of
tolerance.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from musclewood.signal.measures.spectrum import median_frequency_hz, power_spectrum
from scipy.signal import butter, sosfiltfilt


def test_the_spectrum_sinks(open_recording: Callable[[str], Any]) -> None:
    recording = open_recording("fatigue")
    rate_hz = recording.rate_hz
    emg = sosfiltfilt(butter(4, (20.0, 450.0), "bandpass", fs=rate_hz, output="sos"), recording.samples[:, 0])
    bursts = [(one.onset_s, one.offset_s) for one in recording.labels if one.offset_s - one.onset_s > 0.5]
    spectra = [power_spectrum(emg[round(on_s * rate_hz) : round(off_s * rate_hz)], rate_hz) for on_s, off_s in bursts]
    medians = np.array([median_frequency_hz(spectrum) for spectrum in spectra])
    middles_s = np.mean(bursts, axis=1)
    assert medians[:3].mean() == pytest.approx(74.8, rel=0.1)
    assert medians[-3:].mean() == pytest.approx(57.0, rel=0.1)
    assert np.polyfit(middles_s, medians, 1)[0] == pytest.approx(-0.128, rel=0.15)
