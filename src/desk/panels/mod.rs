//! The parts of the window. Each reads what it is given and pushes what was asked.

mod align;
mod bottom;
mod demand;
mod frame;
mod gate;
mod glass;
mod help;
mod import;
mod judge;
mod measure;
mod messages;
mod new_job;
pub mod slip;
mod table;
mod top;
mod touched;
mod twins;

pub(super) use frame::frame;
