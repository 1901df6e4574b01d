import io

import numpy as np
import pypdfium2
import pytest

from ironlace.dossier.print.disc_pdf import disc_pdf
from ironlace.running.degree_disc import DegreeDisc


def test_the_disc_has_its_stated_diameter_on_paper():
    with pypdfium2.PdfDocument(io.BytesIO(disc_pdf(DegreeDisc(diameter_mm=120.0)))) as pdf:
        assert len(pdf) == 1
        mm = [side / 72.0 * 25.4 for side in pdf[0].get_size()]
        assert mm == pytest.approx([210.0, 297.0], abs=0.01)
        grey = np.asarray(pdf[0].render(scale=4, grayscale=True).to_pil())
    per_mm = 4 * 72 / 25.4
    rows = np.flatnonzero((grey[: int(140 * per_mm)] < 128).any(axis=1))
    across = np.flatnonzero(grey[int(76 * per_mm)] < 128)
    assert (rows[-1] - rows[0]) / per_mm == pytest.approx(120.0, abs=0.5)
    assert (across[-1] - across[0]) / per_mm == pytest.approx(120.0, abs=0.5)
