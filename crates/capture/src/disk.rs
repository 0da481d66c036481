//! What a person can do about what the operating system says of a file.

use std::io::{self, ErrorKind};

/// What to do about an error of the disk, a whole sentence.
pub fn remedy(error: &io::Error) -> &'static str {
    // ELOOP of Linux; the standard library has no stable name for it.
    if cfg!(target_os = "linux") && error.raw_os_error() == Some(40) {
        return "Its links lead round in a circle: name the file itself.";
    }
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "The disk is full: make room, then try again."
        }
        ErrorKind::PermissionDenied => {
            "You may not: check the permissions, or choose another folder."
        }
        ErrorKind::ReadOnlyFilesystem => "That disk may only be read: choose a folder on another.",
        ErrorKind::NotADirectory => "A part of that path is a file, not a folder: check the name.",
        ErrorKind::InvalidFilename => "Choose a shorter or plainer name.",
        _ => "Check that the disk is there, is not full and may be written.",
    }
}

/// The error without the path of a temporary file in its words: who reads them knows another.
pub fn plain(error: io::Error) -> io::Error {
    let text = error.to_string();
    match text.split_once(" at path ") {
        Some((said, _)) if error.raw_os_error().is_none() => {
            io::Error::new(error.kind(), said.to_owned())
        }
        _ => error,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_os = "linux")]
    #[test]
    fn links_in_a_circle_are_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let link = folder.path().join("a");
        std::os::unix::fs::symlink(&link, &link).expect("a link to itself");
        let error = std::fs::File::open(&link).expect_err("a circle");
        assert!(remedy(&error).contains("circle"), "{error}");
    }

    #[test]
    fn a_temporary_files_path_is_left_out() {
        let nowhere =
            tempfile::Builder::new().tempfile_in("/nowhere/at/all").expect_err("no folder");
        assert!(nowhere.to_string().contains("/nowhere"), "{nowhere}");
        let said = plain(nowhere);
        assert_eq!(said.kind(), ErrorKind::NotFound);
        assert!(!said.to_string().contains("/nowhere"), "{said}");
    }
}
