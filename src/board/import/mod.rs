//! What the imports share: which format a file has by its contents, what a person is asked and
//! answers, what comes out, and why a file was not imported.

mod assemble;
mod counts;
mod detect;
mod edge;
mod error;
mod land;
mod landmarks;
mod options;
mod pads;
mod stand_in;

use std::path::{Path, PathBuf};

use super::centroid::import_centroid;
use super::gerber::import_gerber;
use super::ipc356::import_ipc356;
use super::model::BoardMap;

pub(super) use assemble::assemble;
pub(super) use edge::{edge_is_open, stand_in_edge};
pub use error::ImportError;
pub(super) use error::quoted;
pub(super) use land::turned_note;
pub use options::{
    BadAnswer, BottomX, CoordinateStep, DecimalMark, ImportOptions, LengthUnit, MapFormat, Outer,
    Question, QuestionKey, Repeats,
};
pub(super) use pads::{Body, Drill, Pad, Sources};

/// A map made from a file, with what it leaves open.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The map.
    pub map: BoardMap,
    /// The format that was read.
    pub format: MapFormat,
    /// What to answer on the map.
    pub questions: Vec<Question>,
    /// What was read, in sentences.
    pub read: Vec<String>,
    /// What the file has that the map does not, in sentences.
    pub left_out: Vec<String>,
    /// What the file does not say and was assumed, in sentences.
    pub assumed: Vec<String>,
    /// What was done and what is missing, in sentences.
    pub notes: Vec<String>,
}

/// A file to import: its name, used in errors and as the origin, and its bytes.
pub type Source = (PathBuf, Vec<u8>);

/// Makes one map from the files of one board. The format is told by the contents, never by the
/// name: centroid CSV, IPC-D-356/356A, or Gerber with X2/X3 attributes. Only Gerber files come
/// several to a board.
///
/// # Errors
/// Names file, line and column; or asks ([`ImportError::Asks`]).
pub fn import_map_files(
    sources: &[Source],
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    let Some((first, bytes)) = sources.first() else {
        return Err(ImportError::Unfit {
            path: PathBuf::new(),
            reason: "no file was given".to_owned(),
            remedy: "name the file to import".to_owned(),
        });
    };
    let format = format_of(bytes, first, options)?;
    for (path, bytes) in &sources[1..] {
        let other = format_of(bytes, path, options)?;
        if format != MapFormat::Gerber || other != format {
            return Err(ImportError::Unfit {
                path: path.clone(),
                reason: format!(
                    "{} is {format} and this file is {other}; only Gerber files come several to a board",
                    first.display()
                ),
                remedy: "import one file, or the Gerber files of one board together".to_owned(),
            });
        }
    }
    match format {
        MapFormat::Centroid => import_centroid(bytes, first, options),
        MapFormat::Ipc356 => import_ipc356(bytes, first, options),
        MapFormat::Gerber => import_gerber(sources, options),
    }
}

/// The format of a file by its contents.
///
/// # Errors
/// Where it is a format that is not read (said by name), or may be several: then it asks.
pub fn format_of(
    bytes: &[u8],
    name: &Path,
    options: &ImportOptions,
) -> Result<MapFormat, ImportError> {
    match options.format {
        Some(format) => Ok(format),
        None => detect::detect(bytes, name),
    }
}
