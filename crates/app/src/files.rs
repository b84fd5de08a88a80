//! Files of a design: reading them safely, and writing one without losing the old.

use crate::defaults::{FIRST_FILE, LARGEST_FILE};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use text::source::{Sources, check_utf8};

/// A design on disk: its folder, and the file that is read first.
#[derive(Debug, Clone)]
pub struct Folder {
    /// The folder that names are relative to.
    pub root: PathBuf,
    /// Name of the first file in it.
    pub first: String,
}

impl Folder {
    /// From what the user named: a folder (its `machine.valve` is read) or a file.
    ///
    /// # Errors
    /// When there is no such file or folder, or its name is not text.
    pub fn at(path: &Path) -> Result<Self, String> {
        let shown = path.display();
        if path.is_dir() {
            if !path.join(FIRST_FILE).is_file() {
                return Err(format!(
                    "{shown} holds no {FIRST_FILE}: name a design folder or a .valve file"
                ));
            }
            return Ok(Self {
                root: path.to_owned(),
                first: FIRST_FILE.to_owned(),
            });
        }
        if !path.is_file() {
            return Err(format!(
                "there is no file or folder {shown}; `valvewright demo` writes one to look at"
            ));
        }
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .ok_or_else(|| format!("{shown}: the name is not text"))?;
        Ok(Self {
            root: folder_of(path).map_or_else(|| PathBuf::from("."), Path::to_owned),
            first: name.to_owned(),
        })
    }
}

impl Sources for Folder {
    fn read(&self, name: &str) -> Result<String, String> {
        read_text(&self.root.join(name))
    }
}

/// The text of a file.
///
/// # Errors
/// Says why it cannot be had.
pub fn read_text(path: &Path) -> Result<String, String> {
    let name = path.display().to_string();
    let info = fs::metadata(path).map_err(|error| reason(&error))?;
    if !info.is_file() {
        return Err("it is not a file".to_owned());
    }
    if LARGEST_FILE < info.len() {
        return Err(format!(
            "it is larger than {} MB: not a design",
            LARGEST_FILE / 1024 / 1024
        ));
    }
    let bytes = fs::read(path).map_err(|error| reason(&error))?;
    check_utf8(&name, bytes)
}

fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "may not be read".to_owned(),
        _ => error.to_string(),
    }
}

/// Looks whether the folder of a file to be written is there: one that is not is a slip of the hand and is not made.
///
/// # Errors
/// Names the folder.
pub fn folder_is_there(path: &Path) -> Result<(), String> {
    match folder_of(path) {
        Some(folder) if !folder.is_dir() => Err(format!(
            "{} cannot be written: there is no folder {}; make it first, or look at its name",
            path.display(),
            folder.display()
        )),
        _ => Ok(()),
    }
}

/// The folder of a file; `None` for the current one.
fn folder_of(path: &Path) -> Option<&Path> {
    path.parent()
        .filter(|parent| !parent.as_os_str().is_empty())
}

/// Makes the folder of a file, for commands that say that they make one.
///
/// # Errors
/// Names the folder and the reason.
pub fn make_folder_of(path: &Path) -> Result<(), String> {
    let folder = folder_of(path).unwrap_or(Path::new("."));
    fs::create_dir_all(folder).map_err(|error| {
        format!(
            "the folder {} cannot be made: {}",
            folder.display(),
            write_reason(&error)
        )
    })
}

/// Writes a file so that at every moment either the old or the new content is there whole. A link is followed, and a file
/// that is there keeps its permissions.
///
/// # Errors
/// Names the file and the reason.
pub fn write(path: &Path, content: impl AsRef<[u8]>) -> Result<(), String> {
    folder_is_there(path)?;
    put(path, content.as_ref()).map_err(|error| {
        format!(
            "{} cannot be written: {}",
            path.display(),
            write_reason(&error)
        )
    })
}

/// Writes a file that is not there yet, with its folder; one that is there, or a link, is left alone.
///
/// # Errors
/// Names the file and the reason.
pub fn write_new(path: &Path, text: &str) -> Result<(), String> {
    make_folder_of(path)?;
    fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(|error| {
            let reason = match error.kind() {
                std::io::ErrorKind::AlreadyExists => "it is there already".to_owned(),
                _ => write_reason(&error),
            };
            format!("{} cannot be written: {reason}", path.display())
        })
}

fn put(path: &Path, content: &[u8]) -> std::io::Result<()> {
    let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let old = fs::metadata(&path).ok().map(|info| info.permissions());
    if old.as_ref().is_some_and(fs::Permissions::readonly) {
        return Err(std::io::ErrorKind::PermissionDenied.into());
    }
    let beside = path.with_extension("writing");
    let mut file = fs::File::create(&beside)?;
    let written = file
        .write_all(content)
        .and_then(|()| old.map_or(Ok(()), |old| file.set_permissions(old)))
        .and_then(|()| file.sync_all())
        .and_then(|()| fs::rename(&beside, &path));
    if written.is_err() {
        let _ = fs::remove_file(&beside);
    }
    written
}

fn write_reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "no such folder".to_owned(),
        std::io::ErrorKind::PermissionDenied => "it is protected".to_owned(),
        std::io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        _ => error.to_string(),
    }
}
