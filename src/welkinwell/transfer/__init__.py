"""Heat, vapour and momentum transfer: gaps, plates, packed beds, condensation, layers.

Scalar kernels; those that a balance differentiates return their partial derivatives beside the value.
All are smooth and finite for every finite argument, also outside the range where they mean something.
"""
