"""The look holds in greyscale and for colour-blind eyes.

Contrast ratios: WCAG 2.1 success criterion 1.4.11 (graphics, 3:1) and 1.4.3 (words, 4.5:1).
"""

import numpy as np
import pytest

from tactical_kit.scenes import style


@pytest.mark.parametrize(("colour", "expected"), [("#ffffff", 1.0), ("#000000", 0.0), ("#808080", 0.2159)])
def test_luminance_of_known_greys(colour, expected):
    # sRGB 128/255 is 21.59 % linear light (IEC 61966-2-1, from memory).
    assert style.luminance(colour) == pytest.approx(expected, abs=1e-4)


def test_contrast_of_a_known_grey():
    # #767676 on white is the well-known lightest grey that passes 4.5:1 (WCAG techniques, from memory).
    assert style.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)
    assert style.contrast("#777777", "#ffffff") < 4.5


def test_sides_differ_in_greyscale_and_shape():
    home, away = style.TEAM_FILL
    assert style.contrast(home, away) >= 3
    assert style.contrast(home, style.PAPER) >= 3 and style.contrast(away, style.PAPER) >= 3
    assert len(set(style.TEAM_MARKER)) == 2


def test_sides_differ_for_red_green_blind_eyes():
    # Dichromat matrices of Machado, Oliveira & Fernandes 2009, severity 1 (from memory), on linear light.
    protan = np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    )
    deutan = np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    )
    for matrix in (protan, deutan):
        seen = []
        for colour in style.TEAM_FILL:
            part = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
            linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
            seen.append(float(np.clip(matrix @ linear, 0, 1) @ (0.2126, 0.7152, 0.0722)))
        assert (max(seen) + 0.05) / (min(seen) + 0.05) >= 2


def test_words_read_on_every_ground():
    for fill, text in zip(style.TEAM_FILL, style.TEAM_TEXT):
        assert style.contrast(fill, text) >= 4.5
    assert style.contrast(style.INK, style.PAPER) >= 7
    assert style.contrast(style.FAINT, style.PAPER) >= 4.5
    for shade in np.linspace(0, 1, 101):
        fill = style.ramp(shade)
        assert style.contrast(style.text_on(fill), fill) >= 4.5


def test_ramp_darkens_all_the_way_and_spreads_in_greyscale():
    light = [style.luminance(style.ramp(s)) for s in np.linspace(0, 1, 51)]
    assert (np.diff(light) < 0).all()
    assert style.contrast(style.ramp(0), style.ramp(1)) >= 4.5
    assert style.ramp(-1) == style.ramp(0) and style.ramp(2) == style.ramp(1)


def test_arrows_read_on_the_light_part_of_the_ramp():
    assert style.contrast(style.INK, style.ramp(style.LIGHT)) >= 3
