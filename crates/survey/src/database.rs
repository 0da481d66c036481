//! The SQLite file: how it is opened, and how an older one is brought up to this program's
//! schema (numbered steps, `PRAGMA user_version`, one transaction each, a copy of the file first).

use crate::SurveyError;
use crate::folder::Folder;
use rusqlite::{Connection, OpenFlags};
use std::path::Path;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// The steps; step n brings a database from version n to n + 1.
const STEPS: &[&str] = &[include_str!("migrations/0001.sql")];

/// How long a writer waits for another one. A ledger is recomputed inside a transaction when
/// many write at once, so this is generous.
const WAIT: Duration = Duration::from_secs(120);

/// After this a person is told what is waited for.
const SILENT: Duration = Duration::from_secs(2);

static WAITING: OnceLock<fn()> = OnceLock::new();

/// What to call, once for each wait, when a survey's database has been locked by another program
/// for two seconds. The first call of this function counts.
pub fn when_waiting(tell: fn()) {
    let _ = WAITING.set(tell);
}

/// Called by SQLite again and again while another program writes; `tries` from 0.
fn wait(began: &mut Instant, told: &mut bool, tries: i32) -> bool {
    if tries == 0 {
        (*began, *told) = (Instant::now(), false);
    }
    if !*told && began.elapsed() >= SILENT {
        *told = true;
        if let Some(tell) = WAITING.get() {
            tell();
        }
    }
    // Short at first: most transactions last a few milliseconds.
    std::thread::sleep(Duration::from_millis(tries.clamp(1, 25) as u64));
    began.elapsed() < WAIT
}

/// The schema that this program writes.
pub(crate) fn newest() -> u32 {
    STEPS.len() as u32
}

/// A fresh database in memory with the newest schema, to replay a journal into.
pub(crate) fn scratch() -> Result<Connection, SurveyError> {
    let name = Path::new("(memory)");
    let fail = |e| SurveyError::database(name, "make a database in memory", e);
    let db = Connection::open_in_memory().map_err(fail)?;
    for step in STEPS {
        db.execute_batch(step).map_err(fail)?;
    }
    Ok(db)
}

/// Makes the database of a new survey: built beside its place, then renamed there, so that it is
/// either whole or not there. `fill` writes the first entries, in the same transaction.
pub(crate) fn create(
    folder: &Folder,
    fill: impl FnOnce(&Connection) -> Result<(), SurveyError>,
) -> Result<(), SurveyError> {
    let file = folder.database();
    // Of several programs that start a survey here at once, one does.
    let lock = folder.lock_file("jobs.lock")?;
    lock.lock().map_err(|e| SurveyError::disk(&folder.root().join("jobs.lock"), "lock it", e))?;
    if file.exists() {
        return Err(holds_one_already(folder.root()));
    }
    let staging = folder.stage()?;
    let new = staging.path().join("survey.sqlite");
    let fail = |e| SurveyError::database(&file, "make the database", e);
    let db = Connection::open(&new).map_err(fail)?;
    db.execute_batch("PRAGMA synchronous = FULL; BEGIN IMMEDIATE").map_err(fail)?;
    for step in STEPS {
        db.execute_batch(step).map_err(fail)?;
    }
    db.pragma_update(None, "user_version", newest()).map_err(fail)?;
    fill(&db)?;
    db.execute_batch("COMMIT").map_err(fail)?;
    db.close().map_err(|(_, e)| fail(e))?;
    std::fs::rename(&new, &file).map_err(|e| SurveyError::disk(&file, "move it here", e))?;
    crate::folder::sync_folder(folder.root())
}

/// The refusal to start a second survey in a folder.
#[cold]
pub(crate) fn holds_one_already(dir: &Path) -> SurveyError {
    SurveyError::refused(
        format!("{} holds a survey already", dir.display()),
        "Choose another folder, or work in that one.",
    )
}

/// Opens a survey's database, brought up to the newest schema.
///
/// # Errors
/// If it is none of ours, was written by a newer program, or the disk will not.
pub(crate) fn open(folder: &Folder) -> Result<Connection, SurveyError> {
    open_with(folder, STEPS)
}

fn open_with(folder: &Folder, steps: &[&str]) -> Result<Connection, SurveyError> {
    let file = folder.database();
    if !file.is_file() && folder.has_evidence() {
        return Err(SurveyError::Damaged {
            what: format!("{} is missing, and there is evidence beside it", file.display()),
        });
    }
    if !file.is_file() {
        return Err(SurveyError::refused(
            format!(
                "{} holds no survey (there is no survey.sqlite in it)",
                folder.root().display()
            ),
            "Name the survey's folder, or start one with `new`.",
        ));
    }
    let fail = |doing: &'static str| {
        let file = file.clone();
        move |e| SurveyError::database(&file, doing, e)
    };
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut db = Connection::open_with_flags(&file, flags).map_err(fail("open it"))?;
    let (mut began, mut told) = (Instant::now(), false);
    db.busy_handler(Some(move |tries| wait(&mut began, &mut told, tries)))
        .map_err(fail("open it"))?;
    db.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON")
        .map_err(fail("open it"))?;
    check_version(&db, folder, steps)?;
    let mode: String =
        db.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0)).map_err(fail("open it"))?;
    if mode != "wal" {
        return Err(SurveyError::refused(
            format!("{}: SQLite cannot keep its write-ahead log here ({mode})", file.display()),
            "Copy the survey to a local disk and work there.",
        ));
    }
    migrate(&mut db, folder, steps)?;
    Ok(db)
}

/// Opens a survey's database without writing a byte, not even a lock.
///
/// # Errors
/// As [`open`]; and if it was copied while in use, or is of an older schema.
pub(crate) fn open_unwritten(folder: &Folder) -> Result<Connection, SurveyError> {
    let file = folder.database();
    let fail = |e| SurveyError::database(&file, "open it", e);
    let log = folder.root().join("survey.sqlite-wal");
    if std::fs::metadata(&log).is_ok_and(|log| log.len() > 0) {
        return Err(SurveyError::refused(
            format!("{} is in use, or was copied while it was", folder.root().display()),
            "Let the program that uses it end, or copy the folder to a disk that may be written.",
        ));
    }
    if !file.is_file() {
        return open(folder);
    }
    // SQLite would say no more than that it cannot.
    std::fs::File::open(&file).map_err(|e| SurveyError::disk(&file, "read it", e))?;
    let path = file.canonicalize().map_err(|e| SurveyError::disk(&file, "find it", e))?;
    let mut uri = String::from("file:");
    for byte in path.to_string_lossy().bytes() {
        // RFC 3986: everything but unreserved characters and the slash is escaped.
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                uri.push(byte as char);
            }
            _ => uri.push_str(&format!("%{byte:02X}")),
        }
    }
    uri.push_str("?immutable=1");
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = Connection::open_with_flags(uri, flags).map_err(fail)?;
    if check_version(&db, folder, STEPS)? < newest() {
        return Err(SurveyError::refused(
            format!("{} is of an older schema and may not be written", folder.root().display()),
            "Copy it to a disk that may be written, and open the copy.",
        ));
    }
    Ok(db)
}

fn version_of(db: &Connection, folder: &Folder) -> Result<i64, SurveyError> {
    db.query_row("PRAGMA user_version", [], |row| row.get(0))
        .map_err(|e| SurveyError::database(&folder.database(), "read its version", e))
}

fn check_version(db: &Connection, folder: &Folder, steps: &[&str]) -> Result<u32, SurveyError> {
    let version = version_of(db, folder)?;
    if version > steps.len() as i64 {
        return Err(SurveyError::refused(
            format!(
                "{} was written by a newer stillroom (schema {version}; this one knows {})",
                folder.root().display(),
                steps.len()
            ),
            "Use the newer program; nothing was touched.",
        ));
    }
    if version < 1 && folder.has_evidence() {
        return Err(SurveyError::Damaged {
            what: format!(
                "{} holds no survey any more (its schema says {version}), and there is evidence \
                 beside it",
                folder.database().display()
            ),
        });
    }
    if version < 1 {
        return Err(SurveyError::refused(
            format!("{} is not a survey's database", folder.database().display()),
            "Name the survey's folder, or start one with `new`.",
        ));
    }
    Ok(u32::try_from(version).unwrap_or(u32::MAX))
}

fn migrate(db: &mut Connection, folder: &Folder, steps: &[&str]) -> Result<(), SurveyError> {
    let file = folder.database();
    let fail = |doing: &'static str| {
        let file = file.clone();
        move |e| SurveyError::database(&file, doing, e)
    };
    loop {
        let version = check_version(db, folder, steps)?;
        if version as usize == steps.len() {
            return Ok(());
        }
        // A copy that a crash cannot leave half: written aside, then renamed.
        let staging = folder.stage()?;
        let aside = staging.path().join("copy.sqlite");
        db.execute("VACUUM INTO ?1", [aside.to_string_lossy()]).map_err(fail("copy it first"))?;
        let copy = folder.root().join(format!("survey-before-schema-{}.sqlite", version + 1));
        if !copy.exists() {
            std::fs::File::open(&aside)
                .and_then(|file| file.sync_all())
                .and_then(|()| std::fs::rename(&aside, &copy))
                .map_err(|e| SurveyError::disk(&copy, "keep a copy here", e))?;
            crate::folder::sync_folder(folder.root())?;
        }
        let tx = db
            .transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)
            .map_err(fail("bring it up to date"))?;
        // Another program may have taken this step while we copied.
        if version_of(&tx, folder)? == i64::from(version) {
            let step = steps.get(version as usize).copied().unwrap_or_default();
            tx.execute_batch(step).map_err(fail("bring it up to date"))?;
            tx.pragma_update(None, "user_version", version + 1)
                .map_err(fail("bring it up to date"))?;
            tx.commit().map_err(fail("bring it up to date"))?;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_older_database_is_copied_then_brought_up_to_date() {
        let place = tempfile::tempdir().expect("a temporary folder");
        let folder = Folder::at(place.path());
        folder.make().expect("made");
        create(&folder, |_| Ok(())).expect("created");
        let later =
            [STEPS[0], "CREATE TABLE extra (x TEXT) STRICT; INSERT INTO extra VALUES ('y')"];
        let db = open_with(&folder, &later).expect("brought up to date");
        let x: String = db.query_row("SELECT x FROM extra", [], |r| r.get(0)).expect("there");
        assert_eq!(x, "y");
        assert_eq!(version_of(&db, &folder).expect("version"), 2);
        drop(db);
        let copy =
            Connection::open(place.path().join("survey-before-schema-2.sqlite")).expect("copy");
        assert!(copy.prepare("SELECT * FROM extra").is_err());
        assert_eq!(
            copy.query_row("PRAGMA user_version", [], |r| r.get::<_, u32>(0)).expect("v"),
            1
        );
        // This program, which knows one step only, must not touch it now.
        let refused = open(&folder).expect_err("newer");
        assert_eq!(refused.exit_code(), 2);
        assert!(
            refused.to_string().contains("newer stillroom (schema 2; this one knows 1)"),
            "{refused}"
        );
    }

    #[test]
    fn a_step_that_fails_leaves_the_database_as_it_was() {
        let place = tempfile::tempdir().expect("a temporary folder");
        let folder = Folder::at(place.path());
        folder.make().expect("made");
        create(&folder, |_| Ok(())).expect("created");
        let bad = [STEPS[0], "CREATE TABLE extra (x TEXT); INSERT INTO nowhere VALUES (1)"];
        assert!(open_with(&folder, &bad).is_err());
        let db = open(&folder).expect("still opens");
        assert!(db.prepare("SELECT * FROM extra").is_err());
    }
}
