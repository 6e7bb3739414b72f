//! The oven and its load as a thermal network, and its integration.
