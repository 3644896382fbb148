//! A board map as a file: read with limits before trust, written in a stable layout.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

use super::bounds;
use super::layout::lay_out;
use super::model::BoardMap;

/// The only version of the format.
pub const MAP_SCHEMA: u32 = 1;

/// Largest map file that is read, bytes. 200 000 pins laid out by [`BoardMap::to_json`] take
/// about 35 MB; a larger file is no board map, and would only cost memory.
pub const MAX_FILE_BYTES: u64 = 64 * 1024 * 1024;

/// What is wrong with a map file. Each names the file, the place and the remedy.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MapError {
    /// The file could not be read.
    #[error("{}: cannot be read ({source}); check the path and that it is a file you may read", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: std::io::Error,
    },
    /// The file is larger than any board map.
    #[error("{}: larger than {limit} bytes, which no board map needs; is it the right file?", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Greatest size accepted, bytes.
        limit: u64,
    },
    /// The bytes are not UTF-8.
    #[error("{}: line {line}: not UTF-8 text; save the map as UTF-8", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// Line of the first bad byte, from 1.
        line: usize,
    },
    /// A number is missing, not a number or beyond what the computer can hold.
    #[error("{}: line {line}, column {column}: `{found}` is not a finite number; numbers must be finite: write the value, or leave the whole entry out where it is optional", path.display())]
    NotFinite {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
        /// The word found.
        found: String,
    },
    /// The text is not the JSON of a board map.
    #[error("{}: line {line}, column {column}: {reason}; mend it there (docs/board-map.md shows a whole map)", path.display())]
    Syntax {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
        /// What the parser says.
        reason: String,
    },
    /// Another version of the format.
    #[error("{}: schema version {found}, but this program reads version {MAP_SCHEMA}; {}", path.display(), schema_remedy(*.found))]
    Schema {
        /// The file.
        path: PathBuf,
        /// Version found.
        found: u64,
    },
    /// More of something than a board can have.
    #[error("{}: {count} {what}, but at most {limit} are accepted; split the map into its boards", path.display())]
    TooMany {
        /// The file.
        path: PathBuf,
        /// Of what.
        what: &'static str,
        /// How many.
        count: usize,
        /// Greatest number accepted.
        limit: usize,
    },
    /// A text is longer than any label.
    #[error("{}: {place}: text of {chars} characters, but at most {limit} are accepted; shorten it", path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
        /// Where.
        place: String,
        /// Its length in characters.
        chars: usize,
        /// Greatest length accepted.
        limit: usize,
    },
    /// A number that no board can have.
    #[error("{}: {place}: {value} is beyond +-{limit}; give millimetres, volts, ohm or hertz as the field asks", path.display())]
    Absurd {
        /// The file.
        path: PathBuf,
        /// Where.
        place: String,
        /// The number.
        value: f64,
        /// Greatest magnitude accepted.
        limit: f64,
    },
}

fn schema_remedy(found: u64) -> &'static str {
    if found > u64::from(MAP_SCHEMA) {
        "it was written by a newer program: use that one, or export the map again for version 1"
    } else {
        "write \"schema\": 1 if the map follows docs/board-map.md"
    }
}

/// A map together with the exact text it came from: what a job pins by its hash.
#[derive(Debug, Clone, PartialEq)]
pub struct MapFile {
    /// The parsed map.
    pub map: BoardMap,
    /// The exact text, a byte-order mark included where there was one.
    pub text: String,
    /// SHA-256 of the text's bytes, lower-case hex.
    pub sha256: String,
}

impl MapFile {
    /// Parses the bytes of a file; `name` is used in errors only.
    ///
    /// # Errors
    /// As [`BoardMap::parse`], and where the bytes are no UTF-8 text.
    pub fn from_bytes(bytes: Vec<u8>, name: &Path) -> Result<Self, MapError> {
        if bytes.len() as u64 > MAX_FILE_BYTES {
            return Err(too_large(name));
        }
        let text = String::from_utf8(bytes).map_err(|e| {
            let good = e.utf8_error().valid_up_to();
            let line = 1 + e.as_bytes()[..good].iter().filter(|b| **b == b'\n').count();
            MapError::NotText {
                path: name.to_path_buf(),
                line,
            }
        })?;
        let map = BoardMap::parse(&text, name)?;
        let sha256 = sha256_hex(text.as_bytes());
        Ok(Self { map, text, sha256 })
    }

    /// Reads and parses a file.
    ///
    /// # Errors
    /// As [`MapFile::from_bytes`], and where the file cannot be read.
    pub fn load(path: &Path) -> Result<Self, MapError> {
        let read = |source| MapError::Read {
            path: path.to_path_buf(),
            source,
        };
        let file = File::open(path).map_err(read)?;
        let mut bytes = Vec::new();
        // One byte past the limit tells a file that is too large without reading all of it.
        file.take(MAX_FILE_BYTES + 1)
            .read_to_end(&mut bytes)
            .map_err(read)?;
        Self::from_bytes(bytes, path)
    }

    /// The file that a map made here is written as.
    #[must_use]
    pub fn of(map: BoardMap) -> Self {
        let text = map.to_json();
        let sha256 = sha256_hex(text.as_bytes());
        Self { map, text, sha256 }
    }
}

impl AsRef<BoardMap> for MapFile {
    fn as_ref(&self) -> &BoardMap {
        &self.map
    }
}

impl AsRef<BoardMap> for BoardMap {
    fn as_ref(&self) -> &BoardMap {
        self
    }
}

impl BoardMap {
    /// Parses the JSON of a board map; `name` is used in errors only. A byte-order mark is
    /// tolerated. What parses may still be nonsense as a board: see [`lint`](super::lint).
    ///
    /// # Errors
    /// Names the file with line and column, or the place in the map, and the remedy.
    pub fn parse(text: &str, name: &Path) -> Result<Self, MapError> {
        if text.len() as u64 > MAX_FILE_BYTES {
            return Err(too_large(name));
        }
        let json = text.strip_prefix('\u{feff}').unwrap_or(text);
        let map: Self = serde_json::from_str(json).map_err(|e| explain(&e, json, name))?;
        if map.schema != MAP_SCHEMA {
            return Err(MapError::Schema {
                path: name.to_path_buf(),
                found: u64::from(map.schema),
            });
        }
        bounds::check(&map, name)?;
        Ok(map)
    }

    /// Reads and parses a file.
    ///
    /// # Errors
    /// As [`BoardMap::parse`], and where the file cannot be read.
    pub fn load(path: &Path) -> Result<Self, MapError> {
        MapFile::load(path).map(|file| file.map)
    }

    /// The map as JSON: stable, one pin a line, with a final line break.
    #[must_use]
    pub fn to_json(&self) -> String {
        // Writing plain data to a String fails for no value of this type; an empty text would
        // be refused by the parser, so even that could not pass unseen.
        lay_out(&serde_json::to_string(self).unwrap_or_default())
    }

    /// SHA-256 of [`BoardMap::to_json`], lower-case hex. For the hash of a file's own bytes
    /// see [`MapFile::sha256`].
    #[must_use]
    pub fn sha256(&self) -> String {
        sha256_hex(self.to_json().as_bytes())
    }
}

fn too_large(name: &Path) -> MapError {
    MapError::TooLarge {
        path: name.to_path_buf(),
        limit: MAX_FILE_BYTES,
    }
}

pub(super) fn sha256_hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    Sha256::digest(bytes)
        .iter()
        .fold(String::with_capacity(64), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
}

/// Turns the parser's error into ours: another schema version first, then numbers that are no
/// numbers, then the rest.
fn explain(error: &serde_json::Error, json: &str, name: &Path) -> MapError {
    #[derive(serde::Deserialize)]
    struct SchemaOnly {
        schema: u64,
    }
    let path = name.to_path_buf();
    if let Ok(SchemaOnly { schema }) = serde_json::from_str(json)
        && schema != u64::from(MAP_SCHEMA)
    {
        return MapError::Schema {
            path,
            found: schema,
        };
    }
    let line = error.line().max(1);
    let text = json.split('\n').nth(line - 1).unwrap_or_default();
    let at = error.column().saturating_sub(1).min(text.len());
    let column = 1 + String::from_utf8_lossy(&text.as_bytes()[..at])
        .chars()
        .count();
    let full = error.to_string();
    let reason = full
        .rsplit_once(" at line ")
        .map_or(full.as_str(), |(reason, _)| reason)
        .to_owned();
    match not_finite(&reason, text, at) {
        Some((found, column)) => MapError::NotFinite {
            path,
            line,
            column,
            found,
        },
        None => MapError::Syntax {
            path,
            line,
            column,
            reason,
        },
    }
}

/// The word that stands where a finite number should, with its column (in characters, from 1).
fn not_finite(reason: &str, line: &str, at: usize) -> Option<(String, usize)> {
    let is_word = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'+' | b'-' | b'.');
    let bytes = line.as_bytes();
    let start = (0..at)
        .rev()
        .find(|&i| !is_word(bytes[i]))
        .map_or(0, |i| i + 1);
    let end = (at..bytes.len())
        .find(|&i| !is_word(bytes[i]))
        .unwrap_or(bytes.len());
    let word = String::from_utf8_lossy(&bytes[start..end]).into_owned();
    let column = 1 + String::from_utf8_lossy(&bytes[..start]).chars().count();
    let bare = word
        .trim_start_matches(['+', '-'])
        .trim_end_matches('.')
        .to_ascii_lowercase();
    let named = bare.starts_with("nan") || bare.starts_with("inf");
    let quoted = [
        "\"nan\"",
        "\"inf",
        "\"-inf",
        "\"+inf",
        "invalid type: null, expected f64",
    ]
    .iter()
    .find(|w| reason.to_ascii_lowercase().contains(**w) && reason.contains("expected f64"));
    if named || reason.contains("number out of range") {
        Some((shorten(&word), column))
    } else if quoted.is_some() {
        let found = reason
            .split_once("invalid type: ")
            .and_then(|(_, rest)| rest.split_once(", expected"))
            .map_or("null", |(found, _)| found);
        Some((shorten(found), column))
    } else {
        None
    }
}

/// Longest piece of a file that an error repeats, characters.
const MAX_QUOTED: usize = 40;

fn shorten(text: &str) -> String {
    if text.chars().count() <= MAX_QUOTED {
        text.to_owned()
    } else {
        text.chars().take(MAX_QUOTED).chain(['…']).collect()
    }
}
