"""Output stage and R-C network: predict, infer, preferred values, derating."""

from feelcheck.network.change import change_from, changes_that_fit, fitted, single_filter
from feelcheck.network.circuit import edge, poles_s
from feelcheck.network.derating import ASSUMED_TOLERANCE, class_2_factors, is_class_2, tolerance_factors
from feelcheck.network.infer import infer_capacitance, infer_resistance
from feelcheck.network.predict import check_settles, predict
from feelcheck.network.preferred import nearest_preferred
from feelcheck.network.what_if import changed_network, what_if

__all__ = [
    "ASSUMED_TOLERANCE",
    "change_from",
    "changed_network",
    "changes_that_fit",
    "check_settles",
    "class_2_factors",
    "edge",
    "fitted",
    "infer_capacitance",
    "infer_resistance",
    "is_class_2",
    "nearest_preferred",
    "poles_s",
    "predict",
    "single_filter",
    "tolerance_factors",
    "what_if",
]
