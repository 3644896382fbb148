//! The job folder: one unit, its photos, its maps, its journal.

use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::record::{PhotoFacts, PhotoId};

use super::error::{StoreError, io_error};
use super::files::{create_file, create_folder, sha256_hex};
use super::names::{is_one_component, is_sha256, sanitised};
use super::read::{Readout, read_journals};

/// Format of a job folder that this version writes.
pub const FORMAT: u32 = 1;

/// Folders of a job.
const FOLDERS: [&str; 5] = ["photos", "maps", "journal", "exports", "cache"];

/// How many hex digits of the hash a photo's file name starts with: eight as a rule, more where
/// another photo took that name.
const HASH_DIGITS: [usize; 3] = [8, 16, 64];

/// A job folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    folder: PathBuf,
    id: Uuid,
    format: u32,
}

/// `job.json`: written once, never changed.
#[derive(Serialize, Deserialize)]
struct JobFile {
    /// Version of the folder's format.
    format: u32,
    /// Identity of the job.
    job: Uuid,
}

/// An original that is in the job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredPhoto {
    /// SHA-256 of its bytes.
    pub photo: PhotoId,
    /// Its name under `photos/`.
    pub file: String,
    /// Whether the job had it already.
    pub known: bool,
}

impl Job {
    /// Makes a job folder; the folder may exist, with other files in it. `job.json` comes last,
    /// so that a folder is a job only once it is whole.
    ///
    /// # Errors
    /// [`StoreError::JobExists`] where one is there already; else [`StoreError::Io`].
    pub fn create(folder: &Path) -> Result<Self, StoreError> {
        let exists = || StoreError::JobExists {
            path: folder.to_owned(),
        };
        let path = folder.join("job.json");
        if path.exists() {
            return Err(exists());
        }
        create_folder(folder)?;
        for name in FOLDERS {
            create_folder(&folder.join(name))?;
        }
        let file = JobFile {
            format: FORMAT,
            job: Uuid::now_v7(),
        };
        let json = format!("{{\"format\":{},\"job\":\"{}\"}}\n", file.format, file.job);
        if !create_file(&path, json.as_bytes())? {
            return Err(exists());
        }
        Ok(Self {
            folder: folder.to_owned(),
            id: file.job,
            format: file.format,
        })
    }

    /// Opens a job folder for reading. A newer format opens too; writing to it is refused.
    ///
    /// # Errors
    /// [`StoreError::NotAJob`], [`StoreError::BadJobFile`] or [`StoreError::Io`].
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        let path = folder.join("job.json");
        let bytes = match fs::read(&path) {
            Ok(bytes) => bytes,
            Err(error) if folder.is_dir() && error.kind() == std::io::ErrorKind::NotFound => {
                return Err(StoreError::NotAJob {
                    path: folder.to_owned(),
                });
            }
            Err(error) => return Err(io_error(&path, "open the job")(error)),
        };
        let file: JobFile =
            serde_json::from_slice(&bytes).map_err(|error| StoreError::BadJobFile {
                path: path.clone(),
                why: error.to_string(),
            })?;
        if file.format == 0 {
            return Err(StoreError::BadJobFile {
                path,
                why: "format 0 does not exist".to_owned(),
            });
        }
        Ok(Self {
            folder: folder.to_owned(),
            id: file.job,
            format: file.format,
        })
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Identity of the job.
    #[must_use]
    pub fn id(&self) -> Uuid {
        self.id
    }

    /// Format of the folder; greater than [`FORMAT`] where a newer version made it.
    #[must_use]
    pub fn format(&self) -> u32 {
        self.format
    }

    /// Reads every journal file.
    ///
    /// # Errors
    /// [`StoreError::Io`] where a file cannot be read at all; lines that cannot be understood
    /// are problems of the readout.
    pub fn read(&self) -> Result<Readout, StoreError> {
        read_journals(&self.journal_folder())
    }

    /// Refuses a job that only a newer version may write to.
    pub(super) fn check_writable(&self) -> Result<(), StoreError> {
        if self.format > FORMAT {
            return Err(StoreError::NewerFormat {
                path: self.folder.join("job.json"),
                format: self.format,
                ours: FORMAT,
            });
        }
        Ok(())
    }

    /// Where the journal files are.
    #[must_use]
    pub fn journal_folder(&self) -> PathBuf {
        self.folder.join("journal")
    }

    /// Where slips and reports go; made where it is missing.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn exports_folder(&self) -> Result<PathBuf, StoreError> {
        self.made("exports")
    }

    /// Where thumbnails and the like go, always rebuildable; made where it is missing.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn cache_folder(&self) -> Result<PathBuf, StoreError> {
        self.made("cache")
    }

    fn made(&self, name: &str) -> Result<PathBuf, StoreError> {
        let folder = self.folder.join(name);
        create_folder(&folder)?;
        Ok(folder)
    }

    /// Copies an original into the job, byte by byte. `name` is the name that it had. An
    /// original that is there already is left as it is.
    ///
    /// # Errors
    /// [`StoreError::NewerFormat`], [`StoreError::NotRewritten`] where other files took every
    /// name that its hash gives, or [`StoreError::Io`].
    pub fn import_photo(&self, bytes: &[u8], name: &str) -> Result<StoredPhoto, StoreError> {
        self.check_writable()?;
        let photo = sha256_hex(bytes);
        let photos = self.made("photos")?;
        let readable = sanitised(name);
        if let Some(file) = stored_under(&photos, &photo)? {
            return Ok(StoredPhoto {
                photo,
                file,
                known: true,
            });
        }
        for digits in HASH_DIGITS {
            let file = format!("{}-{readable}", &photo[..digits]);
            let path = photos.join(&file);
            if create_file(&path, bytes)? {
                return Ok(StoredPhoto {
                    photo,
                    file,
                    known: false,
                });
            }
            if has_hash(&path, &photo)? {
                return Ok(StoredPhoto {
                    photo,
                    file,
                    known: true,
                });
            }
        }
        let path = photos.join(format!("{photo}-{readable}"));
        Err(StoreError::NotRewritten { path })
    }

    /// As [`Self::import_photo`], from a file.
    ///
    /// # Errors
    /// As [`Self::import_photo`], and [`StoreError::Io`] where the file cannot be read.
    pub fn import_photo_file(&self, path: &Path) -> Result<StoredPhoto, StoreError> {
        let bytes = fs::read(path).map_err(io_error(path, "read the photo"))?;
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        self.import_photo(&bytes, &name)
    }

    /// Where the original of a photo is.
    ///
    /// # Errors
    /// [`StoreError::BadName`] where the record names no plain file.
    pub fn photo_path(&self, facts: &PhotoFacts) -> Result<PathBuf, StoreError> {
        let photos = self.folder.join("photos");
        if is_one_component(&facts.file) {
            Ok(photos.join(&facts.file))
        } else {
            Err(StoreError::BadName {
                path: photos,
                name: facts.file.clone(),
            })
        }
    }

    /// Keeps a board map in the job; returns the SHA-256 under which it is adopted.
    ///
    /// # Errors
    /// [`StoreError::NewerFormat`], [`StoreError::NotRewritten`] where the file is there and was
    /// altered, or [`StoreError::Io`].
    pub fn store_map(&self, bytes: &[u8]) -> Result<String, StoreError> {
        self.check_writable()?;
        let sha256 = sha256_hex(bytes);
        let path = self.made("maps")?.join(format!("{sha256}.json"));
        if !create_file(&path, bytes)? && !has_hash(&path, &sha256)? {
            return Err(StoreError::NotRewritten { path });
        }
        Ok(sha256)
    }

    /// Where a map is.
    ///
    /// # Errors
    /// [`StoreError::BadName`] where the record names no hash.
    pub fn map_path(&self, sha256: &str) -> Result<PathBuf, StoreError> {
        let maps = self.folder.join("maps");
        if is_sha256(sha256) {
            Ok(maps.join(format!("{sha256}.json")))
        } else {
            Err(StoreError::BadName {
                path: maps,
                name: sha256.to_owned(),
            })
        }
    }

    /// The bytes of a map, checked against its hash.
    ///
    /// # Errors
    /// [`StoreError::BadName`], [`StoreError::Io`], [`StoreError::Altered`].
    pub fn map_bytes(&self, sha256: &str) -> Result<Vec<u8>, StoreError> {
        let path = self.map_path(sha256)?;
        let bytes = fs::read(&path).map_err(io_error(&path, "read the board map"))?;
        if sha256_hex(&bytes) == sha256 {
            Ok(bytes)
        } else {
            Err(StoreError::Altered { path })
        }
    }
}

/// The file under `photos` that holds this very original, under whatever readable name.
fn stored_under(photos: &Path, photo: &str) -> Result<Option<String>, StoreError> {
    let entries = fs::read_dir(photos).map_err(io_error(photos, "read the photo folder"))?;
    let mut names: Vec<String> = entries
        .flatten()
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter(|name| name.starts_with(&photo[..HASH_DIGITS[0]]))
        .collect();
    names.sort();
    for name in names {
        let path = photos.join(&name);
        if path.is_file() && has_hash(&path, photo)? {
            return Ok(Some(name));
        }
    }
    Ok(None)
}

pub(super) fn has_hash(path: &Path, sha256: &str) -> Result<bool, StoreError> {
    let bytes = fs::read(path).map_err(io_error(path, "read the file"))?;
    Ok(sha256_hex(&bytes) == sha256)
}
