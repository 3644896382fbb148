//! Outputs: papers that leave the bench. One view is computed once; writers only format it.
//!
//! [`slip_view`] turns a job's state into a [`SlipView`]; [`slip_html`], [`slip_csv`] and
//! [`slip_json`] write it. Texts stay as people wrote them until a writer escapes them. This
//! room opens no files: photos come through [`SlipSource::photos`].

mod cautions;
mod error;
mod frame;
mod gate;
mod line;
mod page;
mod picture;
mod pictures;
mod site;
mod slip;
mod slip_csv;
mod slip_html;
mod slip_json;
mod summary;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod view;
mod words;

pub use cautions::{Caution, before_power, before_work};
pub use error::PaperError;
pub use gate::{GateView, gate_lines, gate_page, gate_view};
pub use picture::{Picture, PictureMark};
pub use slip::{NoPhoto, PhotoSource, SlipSource, slip_view};
pub use slip_csv::{COLUMNS, CsvFlavour, csv_text, disarmed, slip_csv};
pub use slip_html::slip_html;
pub use slip_json::{slip_json, slip_json_schema};
pub use view::{
    BesideHint, FaultLine, GateLine, Line, NOT_DECIDED, Obstacle, SLIP_SCHEMA, Section,
    SeverityWord, Signed, SlipView, Term,
};
pub use words::{LONGEST_REMARK_CHARS, shown};
