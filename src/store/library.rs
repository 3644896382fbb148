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
    /// [`StoreError::Io`], [`StoreError::BadRevision`] where it cannot be said which is the newest
    /// so far, or [`StoreError::NotRewritten`] where a file in the library was altered.
    pub fn keep(&self, map: &MapFile, by: &str, note: &str) -> Result<Kept, StoreError> {
        let place = self.board_folder(&map.map.model, &map.map.board);
        // Maps without any revision are no hindrance: keeping one is what mends that.
        let newest = newest_of(&whole(&place)?).cloned();
        if let Some(revision) = newest.clone().filter(|newest| newest.sha256 == map.sha256) {
            return Ok(Kept {
                revision,
                new: false,
            });
        }
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
    /// As [`newest`](Self::newest), for any board.
    pub fn all(&self) -> Result<Vec<Revision>, StoreError> {
        let mut newest = Vec::new();
        for model in folders(&self.folder)? {
            newest.extend(newest_of_each(&model)?);
        }
        newest.sort_by_cached_key(|r| (plain(&r.model), plain(&r.board), r.id));
        Ok(newest)
    }

    /// The newest revision of every board of a model, by board. Models are compared without
    /// regard to case and outer space.
    ///
    /// # Errors
    /// As [`newest`](Self::newest), for any board of the model; other models do not matter.
    pub fn of_model(&self, model: &str) -> Result<Vec<Revision>, StoreError> {
        let mut newest = newest_of_each(&self.folder.join(key(model)))?;
        newest.retain(|revision| same_model(&revision.model, model));
        newest.sort_by_cached_key(|r| (plain(&r.board), r.id));
        Ok(newest)
    }

    /// Every revision of one board that can be read, oldest first. Whether one is missing is for
    /// [`newest`](Self::newest) to say.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn revisions(&self, model: &str, board: &str) -> Result<Vec<Revision>, StoreError> {
        let read = read_each(&self.board_folder(model, board))?;
        Ok(in_order(read.into_iter().flatten().collect()))
    }

    /// The newest revision of one board; `None` where the library has no map of it.
    ///
    /// # Errors
    /// [`StoreError::Io`]; [`StoreError::BadRevision`] where a revision is damaged, which may be
    /// the newest; [`StoreError::NoRevision`] where there are maps and no revision.
    pub fn newest(&self, model: &str, board: &str) -> Result<Option<Revision>, StoreError> {
        newest_in(&self.board_folder(model, board))
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
        Ok(read) => read
            .take(MAX_ENTRIES)
            .map(|entry| {
                let path = entry.map(|entry| entry.path());
                path.map_err(io_error(of, "read the map library"))
            })
            .collect(),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(io_error(of, "read the map library")(error)),
    }
}

/// The newest revision of each board of a model's folder.
fn newest_of_each(model: &Path) -> Result<Vec<Revision>, StoreError> {
    let mut newest = Vec::new();
    for board in folders(model)? {
        newest.extend(newest_in(&board)?);
    }
    Ok(newest)
}

/// The newest revision in a board's folder; `None` where it has no map either.
fn newest_in(board: &Path) -> Result<Option<Revision>, StoreError> {
    let newest = newest_of(&whole(board)?).cloned();
    if newest.is_none() && !json_files(&board.join("maps"))?.is_empty() {
        return Err(StoreError::NoRevision {
            path: board.to_owned(),
        });
    }
    Ok(newest)
}

/// The revisions in a board's folder, oldest first, none of them damaged: without one that is, an
/// older map would be taken for the newest.
fn whole(board: &Path) -> Result<Vec<Revision>, StoreError> {
    let read = read_each(board)?
        .into_iter()
        .collect::<Result<Vec<_>, _>>()?;
    Ok(in_order(read))
}

fn in_order(mut revisions: Vec<Revision>) -> Vec<Revision> {
    revisions.sort_by(|a, b| a.at.cmp(&b.at).then(a.id.cmp(&b.id)));
    revisions.dedup_by(|a, b| a.id == b.id);
    revisions
}

/// Each revision file of a board's folder, read or with what is wrong with it.
fn read_each(board: &Path) -> Result<Vec<Result<Revision, StoreError>>, StoreError> {
    let mut each = Vec::new();
    for path in json_files(&board.join("revisions"))? {
        let mut bytes = Vec::new();
        fs::File::open(&path)
            .map_err(io_error(&path, "read the map library"))?
            .take(MAX_REVISION_BYTES)
            .read_to_end(&mut bytes)
            .map_err(io_error(&path, "read the map library"))?;
        let read = match serde_json::from_slice::<Revision>(&bytes) {
            Ok(revision) if is_sha256(&revision.sha256) => Ok(revision),
            Ok(_) => Err("it names no map".to_owned()),
            Err(error) => Err(error.to_string()),
        };
        each.push(read.map_err(|why| StoreError::BadRevision { path, why }));
    }
    Ok(each)
}

/// The `*.json` files of a folder. Others, and hidden ones, are what a sync tool or the system
/// leaves there: none of ours is called so.
fn json_files(of: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let hidden = |path: &Path| {
        path.file_name()
            .is_some_and(|name| name.to_string_lossy().starts_with('.'))
    };
    let mut found = entries(of)?;
    found.retain(|path| path.extension().is_some_and(|e| e == "json") && !hidden(path));
    found.sort();
    Ok(found)
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

    /// The file of a revision.
    fn revision_file(library: &Library, revision: &Revision) -> PathBuf {
        library
            .board_folder(&revision.model, &revision.board)
            .join("revisions")
            .join(format!("{}.json", revision.id))
    }

    #[test]
    fn a_damaged_revision_lets_no_older_map_stand_as_the_newest() {
        let (_folder, library) = library();
        let (one, two) = (map("M", "main", "one"), map("M", "main", "two"));
        library.keep(&one, "kim", "").unwrap();
        let second = library.keep(&two, "kim", "").unwrap().revision;
        library.keep(&map("N", "main", ""), "kim", "").unwrap();
        let file = revision_file(&library, &second);
        let good = fs::read(&file).unwrap();
        let folder = file.parent().unwrap();
        // What a sync tool or the system leaves there is none of ours.
        for name in ["half.json.tmp", "._half.json", "half.part"] {
            fs::write(folder.join(name), b"{").unwrap();
        }
        assert_eq!(library.newest("M", "main").unwrap(), Some(second.clone()));
        let no_hash = String::from_utf8(good.clone())
            .unwrap()
            .replace(&second.sha256, "none");
        for damaged in [b"{\"id\":".to_vec(), Vec::new(), no_hash.into_bytes()] {
            fs::write(&file, damaged).unwrap();
            let told = [
                library.newest("M", "main").map(|_| ()),
                library.of_model("m").map(|_| ()),
                library.all().map(|_| ()),
                library.keep(&one, "kim", "").map(|_| ()),
            ];
            for told in told {
                let error = told.unwrap_err();
                assert!(
                    matches!(&error, StoreError::BadRevision { path, .. } if *path == file),
                    "{error}"
                );
                assert!(error.to_string().contains("move it away"), "{error}");
            }
        }
        // Another model does not suffer, and the file from a copy mends it.
        assert_eq!(library.of_model("N").unwrap().len(), 1);
        fs::write(&file, good).unwrap();
        assert_eq!(library.newest("M", "main").unwrap(), Some(second));
    }

    #[test]
    fn maps_without_a_revision_are_named_and_keeping_one_again_mends_it() {
        let (_folder, library) = library();
        let one = map("M", "main", "one");
        let kept = library.keep(&one, "kim", "").unwrap().revision;
        let folder = library.board_folder("M", "main");
        fs::remove_dir_all(folder.join("revisions")).unwrap();
        for told in [
            library.newest("M", "main").map(|_| ()),
            library.of_model("M").map(|_| ()),
            library.all().map(|_| ()),
        ] {
            let error = told.unwrap_err();
            assert!(
                matches!(&error, StoreError::NoRevision { path } if *path == folder),
                "{error}"
            );
        }
        let again = library.keep(&one, "kim", "").unwrap();
        assert!(again.new && again.revision.sha256 == kept.sha256);
        assert_eq!(library.of_model("M").unwrap(), [again.revision]);
    }
}
