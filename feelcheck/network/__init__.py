"""Output stage and R-C network: predict, infer, preferred values, derating."""
