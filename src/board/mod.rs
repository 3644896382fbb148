//! Sources: the board map of a model — parts, pins and lands in millimetres, with what to
//! measure on them — its parser, linter and imports.
//!
//! A map is read with [`BoardMap::load`] (or [`MapFile::load`], which keeps the exact text and
//! its hash) and checked with [`lint`]. [`import_map_files`] makes one from published formats,
//! [`map_diff`] says in words how two differ. [`resolve`] turns an address such as
//! `main:J4.3/solder` into a [`Place`]; [`round_order`] gives the order of a round.

mod address;
mod bounds;
mod centroid;
mod class_letters;
mod diff;
pub mod draft;
mod file;
mod gerber;
mod import;
mod ipc356;
mod joints;
mod kind_words;
mod layout;
mod limits;
mod lint;
mod model;
mod polygon;
mod resolve;
mod round;
mod schema;
mod shapes;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;

pub use address::{Address, BadAddress};
pub use bounds::{MAX_MM, MAX_PARTS, MAX_PINS};
pub use centroid::{export_centroid, import_centroid};
pub use diff::{MapChange, map_diff, take_identities};
pub use file::{MAP_SCHEMA, MAX_FILE_BYTES, MapError, MapFile};
pub use gerber::import_gerber;
pub use import::{
    BadAnswer, BottomX, CoordinateStep, DecimalMark, ImportError, ImportOptions, Imported,
    LengthUnit, MapFormat, Outer, Question, QuestionKey, Repeats, Source, format_of,
    import_map_files,
};
pub use ipc356::import_ipc356;
pub use joints::{Joint, MapIndex, full_address, label};
pub use limits::{LimitVerdict, judge_between};
pub use lint::{Finding, FindingSeverity, has_errors, lint};
pub use model::{
    BoardMap, Expect, Extent, Land, LandShape, Landmark, Limits, Outline, Part, PartKind, Pin,
    Rail, Side, TestPoint, Zone,
};
pub use polygon::{crossing, inside_outline};
pub use resolve::{AddressError, Place, resolve, resolve_many};
pub use round::round_order;
pub use schema::map_schema;
