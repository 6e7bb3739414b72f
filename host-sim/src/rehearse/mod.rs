//! The controller run through the plant: doors, answers, faults, and what the parts truly had.
