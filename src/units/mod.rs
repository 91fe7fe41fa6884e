//! Dimensions, units with exact factors, parsing and printing of quantities.
