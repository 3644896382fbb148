//! Which of the files and folders that somebody gave are photos.

use std::collections::BTreeSet;
use std::io::Read;
use std::path::{Path, PathBuf};

use walkdir::{DirEntry, WalkDir};

use super::error::PhotoError;
use super::{kind, open};

/// Folders that hold copies of pictures, not pictures (common practice, no source); compared
/// without regard to case. Hidden ones are left out anyway.
const CACHE_FOLDERS: [&str; 7] = [
    "cache",
    "caches",
    "thumbs",
    "thumbnails",
    "@eadir",
    "__macosx",
    "$recycle.bin",
];

/// What was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// Photos, in the order given, each folder's by name; each file once.
    pub photos: Vec<PathBuf>,
    /// Everything else, with the reason why it is no photo. Hidden files and cache folders are
    /// not mentioned.
    pub passed_over: Vec<(PathBuf, String)>,
}

/// Looks through files and folders for photos.
///
/// Folders are walked to the bottom in order of name, hidden files and cache folders left out,
/// links followed but never in circles. What a file is, its content says. A path given
/// explicitly is always accounted for, hidden or not.
#[must_use]
pub fn find_photos(paths: &[PathBuf]) -> Found {
    let mut search = Search::default();
    for path in paths {
        search.walk(path);
    }
    search.found
}

#[derive(Debug, Default)]
struct Search {
    found: Found,
    seen: BTreeSet<PathBuf>,
}

impl Search {
    fn walk(&mut self, root: &Path) {
        let walk = WalkDir::new(root)
            .follow_links(true)
            .sort_by_file_name()
            .into_iter()
            .filter_entry(wanted);
        for entry in walk {
            match entry {
                Ok(entry) if entry.file_type().is_dir() => {}
                Ok(entry) => self.weigh(entry.path()),
                Err(error) => self.report(root, &error),
            }
        }
    }

    fn weigh(&mut self, path: &Path) {
        if let Err(error) = tell(path) {
            self.pass_over(path, error.reason());
            return;
        }
        let same = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
        if self.seen.insert(same) {
            self.found.photos.push(path.to_path_buf());
        } else {
            self.pass_over(path, "the same file was found before".to_owned());
        }
    }

    fn report(&mut self, root: &Path, error: &walkdir::Error) {
        let path = error.path().unwrap_or(root);
        let why = if error.loop_ancestor().is_some() {
            "a link that leads back to a folder it is in".to_owned()
        } else if error
            .io_error()
            .is_some_and(|e| e.kind() == std::io::ErrorKind::NotFound)
        {
            "there is no such file; check the name, and that the card or folder is still \
             connected"
                .to_owned()
        } else {
            format!("cannot be read ({error}); check that you may read it")
        };
        self.pass_over(path, why);
    }

    fn pass_over(&mut self, path: &Path, why: String) {
        self.found.passed_over.push((path.to_path_buf(), why));
    }
}

/// Everything that was given explicitly; below it, what is neither hidden nor a cache.
fn wanted(entry: &DirEntry) -> bool {
    if entry.depth() == 0 {
        return true;
    }
    let name = entry.file_name().to_string_lossy();
    let cache = || {
        CACHE_FOLDERS
            .iter()
            .any(|folder| name.eq_ignore_ascii_case(folder))
    };
    !(name.starts_with('.') || entry.file_type().is_dir() && cache())
}

/// Looks at the first bytes of a file.
fn tell(path: &Path) -> Result<(), PhotoError> {
    let (file, _) = open::ordinary_file(path)?;
    let mut head = Vec::new();
    file.take(kind::HEAD_BYTES as u64)
        .read_to_end(&mut head)
        .map_err(|source| PhotoError::Unreadable {
            path: path.to_path_buf(),
            source,
        })?;
    kind::format_of(path, &head).map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n and more";

    #[test]
    fn folders_are_walked_in_order_and_everything_is_accounted_for() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        for folder in ["b", "a/deep", ".hidden", "a/Cache", "photo.jpg"] {
            fs::create_dir_all(at(folder)).unwrap();
        }
        for photo in [
            "b/2.jpg",
            "b/1.txt",
            "a/deep/x.png",
            ".hidden/h.png",
            "a/Cache/c.png",
        ] {
            fs::write(at(photo), PNG).unwrap();
        }
        fs::write(at("a/.dot.png"), PNG).unwrap();
        fs::write(at("b/notes: mine.txt"), "just notes").unwrap();
        fs::write(at("b/none.jpg"), "").unwrap();
        let gone = at("gone.png");
        let given = [
            dir.path().to_path_buf(),
            at("b/2.jpg"),
            at("a/.dot.png"),
            gone.clone(),
        ];
        let found = find_photos(&given);
        let expected = ["a/deep/x.png", "b/1.txt", "b/2.jpg", "a/.dot.png"].map(at);
        assert_eq!(found.photos, expected);
        let why = |path: &Path| {
            let hit = found.passed_over.iter().find(|(p, _)| p == path);
            hit.map_or("", |(_, why)| why.as_str())
        };
        assert!(why(&at("b/notes: mine.txt")).starts_with("is not a photo (it looks like text)"));
        assert!(why(&at("b/none.jpg")).contains("is empty"));
        assert!(why(&at("b/2.jpg")).contains("found before"));
        assert!(why(&gone).contains("no such file"));
        assert_eq!(found.passed_over.len(), 4);
    }

    #[cfg(unix)]
    #[test]
    fn links_in_a_circle_are_survived() {
        let dir = tempfile::tempdir().unwrap();
        fs::create_dir(dir.path().join("in")).unwrap();
        fs::write(dir.path().join("in/p.png"), PNG).unwrap();
        std::os::unix::fs::symlink(dir.path(), dir.path().join("in/back")).unwrap();
        std::os::unix::fs::symlink(dir.path().join("nowhere"), dir.path().join("in/dead")).unwrap();
        let found = find_photos(&[dir.path().to_path_buf()]);
        assert_eq!(found.photos, [dir.path().join("in/p.png")]);
        assert_eq!(found.passed_over.len(), 2, "{:?}", found.passed_over);
        assert!(found.passed_over[0].1.contains("leads back"));
    }
}
