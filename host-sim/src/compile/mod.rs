//! Oven, load and spread to the tables the controller bounds its parts with.
