//! Photographs and plan images: evidence files like any other, each kind of bringing in one entry of
//! the journal.

use crate::evidence::Staged;
use crate::folder::Staging;
use crate::images::{self, ImageKind};
use crate::survey::Survey;
use crate::things::{Floor, FoundItem, Photograph, Room};
use crate::{Progress, SurveyError, places, record};
use ledger::FileInfo;
use std::path::{Path, PathBuf};
use units::{Utc, Zone};

/// What photographs are of.
#[derive(Debug, Clone, PartialEq)]
pub enum PlaceOf {
    /// A position, by name; made when named for the first time.
    Position(String),
    /// A room, by name.
    Room(String),
}

impl Survey {
    /// Brings in photographs of a found item. One that it has already is left as it is.
    ///
    /// # Errors
    /// If there is no such item, a picture is not whole, a file cannot be read, or the disk will not.
    pub fn photograph(
        &self,
        item: &str,
        files: &[PathBuf],
        by: &str,
        progress: &dyn Progress,
    ) -> Result<Vec<FileInfo>, SurveyError> {
        let missing = || {
            SurveyError::refused(
                format!("the record has no found item {item}"),
                "Write it into the record first (`describe --apply`).",
            )
        };
        self.read(|db| record::get::<FoundItem>(db, item))?.ok_or_else(missing)?;
        images::check_whole(files)?;
        let (_staging, staged) = self.stage_images(files, progress)?;
        self.write(by, |pen| {
            let mut found = record::get::<FoundItem>(pen.db, item)?.ok_or_else(missing)?;
            let had = found.photographs.len();
            let kept = self.keep_images(&staged)?;
            for photograph in &kept {
                if !found.photographs.iter().any(|other| other.sha256 == photograph.sha256) {
                    found.photographs.push(photograph.clone());
                }
            }
            if found.photographs.len() > had {
                pen.append("photograph", &[record::put(pen.db, &found)?])?;
            }
            Ok(kept)
        })
    }

    /// Brings in photographs of a position or a room. One that is there already is left as it is.
    ///
    /// # Errors
    /// If there is no such room, a file is neither PNG nor JPEG, not whole or cannot be read, or the
    /// disk will not.
    pub fn photograph_place(
        &self,
        of: &PlaceOf,
        taken_at: Option<Utc>,
        files: &[PathBuf],
        by: &str,
        progress: &dyn Progress,
    ) -> Result<Vec<FileInfo>, SurveyError> {
        images::check(files, &[ImageKind::Png, ImageKind::Jpeg])?;
        let (_staging, staged) = self.stage_images(files, progress)?;
        self.write(by, |pen| {
            let (position, room) = match of {
                PlaceOf::Position(name) => {
                    (Some(places::position(pen, name, None, Zone::Inside)?), None)
                }
                PlaceOf::Room(name) => {
                    let rooms = record::all::<Room>(pen.db)?;
                    let room =
                        rooms.iter().find(|room| room.name.eq_ignore_ascii_case(name.trim()));
                    let room = room.ok_or_else(|| {
                        let remedy = "Write it into the record first (`describe --apply`).";
                        SurveyError::refused(format!("the record has no room '{name}'"), remedy)
                    })?;
                    (None, Some(room.name.clone()))
                }
            };
            let kept = self.keep_images(&staged)?;
            for file in &kept {
                let there = record::all::<Photograph>(pen.db)?.into_iter().any(|other| {
                    other.position == position
                        && other.room == room
                        && other.file.is_some_and(|other| other.sha256 == file.sha256)
                });
                if there {
                    continue;
                }
                let photograph = Photograph {
                    id: record::next_id(pen.db, "photograph", "G")?,
                    file: Some(file.clone()),
                    position: position.clone(),
                    room: room.clone(),
                    taken_at,
                    notes: None,
                };
                pen.append("photograph", &[record::put(pen.db, &photograph)?])?;
            }
            Ok(kept)
        })
    }

    /// Brings in the image of a floor's plan, in place of one that it has; scale and origin, which
    /// were the other's, are to be set anew.
    ///
    /// # Errors
    /// If there is no such floor, the file is no PNG, JPEG or SVG, not whole or cannot be read, or the
    /// disk will not.
    pub fn plan_image(
        &self,
        floor: &str,
        file: &Path,
        by: &str,
        progress: &dyn Progress,
    ) -> Result<FileInfo, SurveyError> {
        let missing = || {
            SurveyError::refused(
                format!("the record has no floor {floor}"),
                "Write it into the record first (`describe --apply`).",
            )
        };
        self.read(|db| record::get::<Floor>(db, floor))?.ok_or_else(missing)?;
        let files = [file.to_owned()];
        images::check(&files, &[ImageKind::Png, ImageKind::Jpeg, ImageKind::Svg])?;
        let (_staging, staged) = self.stage_images(&files, progress)?;
        self.write(by, |pen| {
            let before = record::get::<Floor>(pen.db, floor)?.ok_or_else(missing)?;
            let mut kept = self.keep_images(&staged)?;
            let kept = kept.pop().ok_or_else(|| SurveyError::internal("no plan was kept"))?;
            if before.image.as_ref().is_none_or(|image| image.sha256 != kept.sha256) {
                let image = Some(kept.clone());
                let after = Floor { image, scale_m_per_px: None, origin_px: None, ..before };
                pen.append("plan", &[record::put(pen.db, &after)?])?;
            }
            Ok(kept)
        })
    }

    fn stage_images(
        &self,
        files: &[PathBuf],
        progress: &dyn Progress,
    ) -> Result<(Staging, Vec<Staged>), SurveyError> {
        let staging = self.folder.stage()?;
        let mut staged = Vec::new();
        for file in files {
            staged.push(self.folder.bring_in(file, &staging, &|bytes| {
                progress.step(bytes, bytes, "copying pictures");
                !progress.cancelled()
            })?);
        }
        Ok((staging, staged))
    }

    fn keep_images(&self, staged: &[Staged]) -> Result<Vec<FileInfo>, SurveyError> {
        let keep = |one: &Staged| {
            self.folder.keep(one)?;
            let Staged { name, sha256, bytes, .. } = one.clone();
            Ok(FileInfo { name, sha256, bytes })
        };
        staged.iter().map(keep).collect()
    }
}
