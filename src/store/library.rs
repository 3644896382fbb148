//! The map library of a bench: for each model the maps of its boards, every revision kept by
//! the hash of its contents, with who kept it, when and why. Nothing in it is ever overwritten.
//!
//! ```text
//! library/<model>/<board>/maps/<sha256>.json       the map, byte for byte
//! library/<model>/<board>/revisions/<uuid>.json    one revision: hash, who, when, note, parent
//! ```
//!
//! A revision is a file of its own, so that two windows, or two benches that sync the folder,
//! never write the same file. The newest revision is the one that no other names as its parent;
//! of several the latest.

use std::collections::BTreeSet;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::board::{BoardMap, MapFile};

use super::error::{StoreError, io_error};
use super::files::{create_file, create_folder, sha256_hex};
use super::home::Home;
use super::job::has_hash;
use super::names::{is_sha256, sanitised};

/// Folder of the library within the bench's user data.
const FOLDER: &str = "library";

/// Largest revision file that is read, bytes: a hash, names and a note.
const MAX_REVISION_BYTES: u64 = 64 * 1024;

/// Most entries of one folder that are read. A board has some dozen revisions.
const MAX_ENTRIES: usize = 10_000;

/// Longest note, characters.
const MAX_NOTE: usize = 2_000;

/// Hex digits of the hash that keep two models apart whose names look alike on disk.
const KEY_DIGITS: usize = 8;

/// One revision of a map in the library.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Revision {
    /// Identity of the revision.
    pub id: Uuid,
    /// SHA-256 of the map file, lower-case hex.
    pub sha256: String,
    /// The model, as the map names it.
    pub model: String,
    /// The board, as the map names it.
    pub board: String,
    /// Who kept it.
    pub by: String,
    /// When, RFC 3339 in UTC.
    pub at: String,
    /// Why, in words.
    #[serde(default)]
    pub note: String,
    /// The revision that was the newest when this one was kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<Uuid>,
    /// Joint and part counts, for lists.
    pub parts: usize,
    /// Pins of all parts.
    pub pins: usize,
}

/// What keeping a map did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// The revision that holds the map.
    pub revision: Revision,
    /// False where the map was the newest revision already and nothing was written.
    pub new: bool,
}

/// The map library.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Library {
    folder: PathBuf,
}

impl Library {
    /// The library of this bench, beside what else it remembers.
    ///
    /// # Errors
    /// [`StoreError::NoUserData`].
    pub fn find() -> Result<Self, StoreError> {
        Ok(Self::of(&Home::find()?))
    }

    /// The library in a folder for user data.
    #[must_use]
    pub fn of(home: &Home) -> Self {
        Self {
            folder: home.folder().join(FOLDER),
        }
    }

    /// Where it is.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Keeps a map as the newest revision of its model and board. A map that is the newest
    /// already is not kept twice.
    ///
    /// # Errors
    /// [`StoreError::Io`], or [`StoreError::NotRewritten`] where a file in the library was
    /// altered.
    pub fn keep(&self, map: &MapFile, by: &str, note: &str) -> Result<Kept, StoreError> {
        let newest = self.newest(&map.map.model, &map.map.board)?;
        if let Some(revision) = newest.clone().filter(|newest| newest.sha256 == map.sha256) {
            return Ok(Kept {
                revision,
                new: false,
            });
        }
        let place = self.board_folder(&map.map.model, &map.map.board);
        let (maps, revisions) = (place.join("maps"), place.join("revisions"));
        create_folder(&maps)?;
        create_folder(&revisions)?;
        let file = maps.join(format!("{}.json", map.sha256));
        if !create_file(&file, map.text.as_bytes())? && !has_hash(&file, &map.sha256)? {
            return Err(StoreError::NotRewritten { path: file });
        }
        let revision = Revision {
            id: Uuid::now_v7(),
            sha256: map.sha256.clone(),
            model: map.map.model.clone(),
            board: map.map.board.clone(),
            by: by.to_owned(),
            at: jiff::Timestamp::now().to_string(),
            note: note.chars().take(MAX_NOTE).collect(),
            parent: newest.map(|newest| newest.id),
            parts: map.map.parts.len(),
            pins: map.map.parts.iter().map(|part| part.pins.len()).sum(),
        };
        let path = revisions.join(format!("{}.json", revision.id));
        let json = serde_json::to_vec_pretty(&revision).map_err(|error| StoreError::Io {
            path: path.clone(),
            action: "write the revision",
            source: error.into(),
        })?;
        if !create_file(&path, &json)? {
            return Err(StoreError::NotRewritten { path });
        }
        Ok(Kept {
            revision,
            new: true,
        })
    }

    /// The newest revision of every board, by model and board.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn all(&self) -> Result<Vec<Revision>, StoreError> {
        let mut newest = Vec::new();
        for model in folders(&self.folder)? {
            for board in folders(&model)? {
                newest.extend(newest_of(&read_revisions(&board)?).cloned());
            }
        }
        newest.sort_by_cached_key(|r| (plain(&r.model), plain(&r.board), r.id));
        Ok(newest)
    }

    /// The newest revision of every board of a model, by board. Models are compared without
    /// regard to case and outer space.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn of_model(&self, model: &str) -> Result<Vec<Revision>, StoreError> {
        let wanted = plain(model);
        let mut newest = self.all()?;
        newest.retain(|revision| plain(&revision.model) == wanted);
        Ok(newest)
    }

    /// Every revision of one board, oldest first.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn revisions(&self, model: &str, board: &str) -> Result<Vec<Revision>, StoreError> {
        read_revisions(&self.board_folder(model, board))
    }

    /// The newest revision of one board; `None` where the library has no map of it.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn newest(&self, model: &str, board: &str) -> Result<Option<Revision>, StoreError> {
        Ok(newest_of(&self.revisions(model, board)?).cloned())
    }

    /// Where the map of a revision is.
    #[must_use]
    pub fn map_path(&self, revision: &Revision) -> PathBuf {
        self.board_folder(&revision.model, &revision.board)
            .join("maps")
            .join(format!("{}.json", revision.sha256))
    }

    /// The bytes of a revision's map, checked against its hash.
    ///
    /// # Errors
    /// [`StoreError::Io`], or [`StoreError::Altered`].
    pub fn map_bytes(&self, revision: &Revision) -> Result<Vec<u8>, StoreError> {
        let path = self.map_path(revision);
        let bytes = fs::read(&path).map_err(io_error(&path, "read the board map"))?;
        if sha256_hex(&bytes) == revision.sha256 {
            Ok(bytes)
        } else {
            Err(StoreError::Altered { path })
        }
    }

    fn board_folder(&self, model: &str, board: &str) -> PathBuf {
        self.folder.join(key(model)).join(key(board))
    }
}

/// Whether a model's name means the same equipment: without regard to case and outer space.
#[must_use]
pub fn same_model(a: &str, b: &str) -> bool {
    plain(a) == plain(b)
}

/// Whether two maps are of the same board of the same model.
#[must_use]
pub fn same_board(a: &BoardMap, b: &BoardMap) -> bool {
    same_model(&a.model, &b.model) && same_model(&a.board, &b.board)
}

fn plain(name: &str) -> String {
    name.trim().to_lowercase()
}

/// A name as a folder: readable, legal everywhere, and different for different names.
fn key(name: &str) -> String {
    let plain = plain(name);
    let readable: String = sanitised(&plain).chars().take(40).collect();
    let readable = readable.trim_end_matches([' ', '.']);
    format!("{readable}-{}", &sha256_hex(plain.as_bytes())[..KEY_DIGITS])
}

/// The folders in a folder, by name; none where it is not there.
fn folders(of: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let mut found: Vec<PathBuf> = entries(of)?.into_iter().filter(|p| p.is_dir()).collect();
    found.sort();
    Ok(found)
}

fn entries(of: &Path) -> Result<Vec<PathBuf>, StoreError> {
    match fs::read_dir(of) {
        Ok(read) => Ok(read
            .flatten()
            .take(MAX_ENTRIES)
            .map(|entry| entry.path())
            .collect()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(io_error(of, "read the map library")(error)),
    }
}

/// The revisions in a board's folder, oldest first. A file that cannot be understood (a sync
/// tool's half-written copy) is passed over: the map itself lies beside it untouched.
fn read_revisions(board: &Path) -> Result<Vec<Revision>, StoreError> {
    let mut revisions: Vec<Revision> = Vec::new();
    for path in entries(&board.join("revisions"))? {
        if path.extension().is_none_or(|e| e != "json") {
            continue;
        }
        let mut bytes = Vec::new();
        fs::File::open(&path)
            .map_err(io_error(&path, "read the map library"))?
            .take(MAX_REVISION_BYTES)
            .read_to_end(&mut bytes)
            .map_err(io_error(&path, "read the map library"))?;
        let read = serde_json::from_slice::<Revision>(&bytes).ok();
        revisions.extend(read.filter(|revision| is_sha256(&revision.sha256)));
    }
    revisions.sort_by(|a, b| a.at.cmp(&b.at).then(a.id.cmp(&b.id)));
    revisions.dedup_by(|a, b| a.id == b.id);
    Ok(revisions)
}

/// The one that no other names as its parent; the latest of several. The clock decides only
/// between benches that did not see each other's.
fn newest_of(revisions: &[Revision]) -> Option<&Revision> {
    let parents: BTreeSet<Uuid> = revisions.iter().filter_map(|r| r.parent).collect();
    revisions
        .iter()
        .rev()
        .find(|revision| !parents.contains(&revision.id))
        .or_else(|| revisions.last())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(model: &str, board: &str, title: &str) -> MapFile {
        let json = format!(
            r#"{{"schema":1,"model":"{model}","board":"{board}","title":"{title}","outline":[[0,0],[9,0],[9,9]]}}"#
        );
        MapFile::from_bytes(json.into_bytes(), Path::new("m.json")).unwrap()
    }

    fn library() -> (tempfile::TempDir, Library) {
        let folder = tempfile::tempdir().unwrap();
        let library = Library::of(&Home::at(folder.path()));
        (folder, library)
    }

    #[test]
    fn every_revision_is_kept_and_the_newest_is_known() {
        let (_folder, library) = library();
        assert_eq!(library.all().unwrap(), []);
        let (a, b) = (map("FH-12", "main", "one"), map("FH-12", "main", "two"));
        let first = library.keep(&a, "kim", "first").unwrap();
        let second = library.keep(&b, "kim", "moved J4").unwrap();
        assert!(first.new && second.new);
        assert_eq!(second.revision.parent, Some(first.revision.id));
        assert!(
            !library.keep(&b, "kim", "again").unwrap().new,
            "known already"
        );
        // Going back to an older one is a revision too.
        let third = library.keep(&a, "kim", "back").unwrap();
        assert_eq!(
            library.newest("fh-12 ", "MAIN").unwrap(),
            Some(third.revision.clone())
        );
        let notes: Vec<String> = library
            .revisions("FH-12", "main")
            .unwrap()
            .into_iter()
            .map(|r| r.note)
            .collect();
        assert_eq!(notes, ["first", "moved J4", "back"]);
        assert_eq!(
            library.map_bytes(&second.revision).unwrap(),
            b.text.as_bytes()
        );
    }

    #[test]
    fn models_and_boards_keep_apart() {
        let (_folder, library) = library();
        for (model, board) in [
            ("A/B", "main"),
            ("A_B", "main"),
            ("A/B", "panel"),
            ("..", "main"),
        ] {
            library.keep(&map(model, board, ""), "kim", "").unwrap();
        }
        assert_eq!(library.all().unwrap().len(), 4);
        assert_eq!(library.of_model("a/b").unwrap().len(), 2);
        let inside = library.folder().read_dir().unwrap().count();
        assert_eq!(inside, 3, "no name leads out of the library");
    }

    #[test]
    fn a_torn_revision_and_an_altered_map_lose_nothing_else() {
        let (_folder, library) = library();
        let kept = library.keep(&map("M", "main", "one"), "kim", "").unwrap();
        let path = library.map_path(&kept.revision);
        let torn = path
            .parent()
            .and_then(Path::parent)
            .unwrap()
            .join("revisions/half.json");
        fs::write(torn, b"{\"id\":").unwrap();
        assert_eq!(library.revisions("M", "main").unwrap().len(), 1);
        fs::write(&path, b"{}").unwrap();
        assert!(matches!(
            library.map_bytes(&kept.revision),
            Err(StoreError::Altered { .. })
        ));
    }
}
