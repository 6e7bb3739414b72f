//! Bounds on the coldest and the hottest part: nothing in the load is colder or hotter.
pub mod model;
