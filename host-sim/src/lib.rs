//! Rehearse an oven bake on the desk with the controller that runs it.
//!
//! Files a person writes ([`files`]) compile to a thermal network ([`plant`]) that stands for the
//! oven and its load, and to the tables the controller bounds its parts with ([`compile`]).
//! [`rehearse`] runs the controller of `truesoak-core` through the plant; [`report`] says what
//! happened in words, numbers and pictures.

pub mod bare;
pub mod chronicle;
pub mod command;
pub mod compile;
pub mod files;
pub mod fit;
pub mod interrupt;
pub mod link;
pub mod log;
pub mod materials;
pub mod plan;
pub mod plant;
pub mod recount;
pub mod rehearse;
pub mod replay;
pub mod report;
pub mod survey;
pub mod trial;
pub mod virtual_board;
pub mod watch;
