"""Output stage and R-C network: predict, infer, preferred values, derating."""

from feelcheck.network.circuit import edge, poles_s
from feelcheck.network.derating import ASSUMED_TOLERANCE, class_2_factors, is_class_2, tolerance_factors
from feelcheck.network.infer import infer_capacitance, infer_resistance
from feelcheck.network.predict import predict
from feelcheck.network.preferred import nearest_preferred
from feelcheck.network.what_if import changed_network, what_if

__all__ = [
    "ASSUMED_TOLERANCE",
    "changed_network",
    "class_2_factors",
    "edge",
    "infer_capacitance",
    "infer_resistance",
    "is_class_2",
    "nearest_preferred",
    "poles_s",
    "predict",
    "tolerance_factors",
    "what_if",
]
