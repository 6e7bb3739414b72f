//! The log of a bake, one row a second.
