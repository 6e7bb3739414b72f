//! Files a person writes: bake, oven and load, read whole with every problem of all three at once.
pub mod bake;
pub mod load;
pub mod oven;
