"""Fixed words of the page: cautions, and the methods with their references."""

from __future__ import annotations

__all__ = ["CAUTIONS", "METHODS"]

CAUTIONS = (
    "Soldering: hot iron, hot board, fume. Extract or ventilate, protect your eyes, let parts cool. Hot air needs more "
    "distance still.",
    "Take lithium cells out and keep them away from the iron before anything is heated.",
    "Coils: current heats them, and switching it off makes a voltage kick. Fit a path for it and do not touch the "
    "terminals while driving.",
    "Keep the sensor within its supply limits; check with the maker's data sheet before you connect a bench supply.",
    "Boards suffer from static: wear an earthed strap on an earthed mat.",
    "Flicking: short blocks, breaks between them, and stop at once on pain, tingling or numbness.",
    "Local rules, the maker's instructions and licensed practice come before anything on this page.",
)

METHODS = (
    (
        "Transitions",
        "State levels, 10, 50 and 90 % instants, transition duration and settling.",
        "IEEE Std 181-2011, IEEE Standard for Transitions, Pulses, and Related Waveforms (from secondary texts).",
    ),
    (
        "Fits",
        "Time constants by separable least squares over all edges or flicks; the drive is passed through the model.",
        "Golub, G. H. and Pereyra, V. (1973), SIAM Journal on Numerical Analysis 10, 413-432.",
    ),
    (
        "Uncertainty",
        "Standard uncertainties with degrees of freedom; 95 % intervals by Student's t.",
        "JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in measurement.",
    ),
    (
        "Different, equivalent, undecided",
        "Welch's test for a difference, two one-sided tests for equivalence, Holm's adjustment over the metrics.",
        "Welch, B. L. (1947), Biometrika 34, 28-35; Schuirmann, D. J. (1987), Journal of Pharmacokinetics and "
        "Biopharmaceutics 15, 657-680; Holm, S. (1979), Scandinavian Journal of Statistics 6, 65-70.",
    ),
    (
        "Meaning in use",
        "Delay times turn rate after letting go; delay times the peak speed of the own flicks; flicks run sample by "
        "sample where a dead zone, a curve or a short hold breaks the formula.",
        "Kinematics, derived and held against simulation; minimum-jerk path: Flash, T. and Hogan, N. (1985), Journal "
        "of Neuroscience 5, 1688-1703.",
    ),
    (
        "Rehearsals",
        "Two-interval forced choice with an exact binomial probability and interval; thresholds by maximum likelihood "
        "with profile-likelihood intervals; aiming by effective width.",
        "ISO 5495 (paired comparison); Clopper, C. J. and Pearson, E. S. (1934), Biometrika 26, 404-413; Levitt, H. "
        "(1971), Journal of the Acoustical Society of America 49, 467-477; Kontsevich, L. L. and Tyler, C. W. (1999), "
        "Vision Research 39, 2729-2737; ISO/TS 9241-411:2012.",
    ),
    (
        "Rest noise",
        "Allan deviation over growing averaging times.",
        "Riley, W. J. (2008), Handbook of Frequency Stability Analysis, NIST Special Publication 1065.",
    ),
)
"""What was done, and the published method behind it."""
