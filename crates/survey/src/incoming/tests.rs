//! What survives the end of a program, and what does not.

use super::*;
use crate::create::NewSurvey;

fn survey(place: &Path) -> Survey {
    let new = NewSurvey { name: None, region: None, time_zone: Some("UTC".into()), by: None };
    Survey::create(&place.join("case"), &new).expect("a survey")
}

fn put(incoming: &Incoming, name: &str, bytes: &[u8]) {
    let partial = incoming.path().join(".partial");
    fs::write(&partial, bytes).expect("written");
    incoming.whole(&partial, name).expect("kept");
}

fn names(incoming: &[Incoming]) -> Vec<Vec<(String, u64)>> {
    incoming.iter().map(|one| one.files().into_iter().collect()).collect()
}

#[test]
fn what_came_whole_is_taken_up_again_and_the_rest_is_gone() {
    let place = tempfile::tempdir().expect("a folder");
    let survey = survey(place.path());
    let one = survey.incoming("one").expect("begun");
    put(&one, "a.bin", b"four");
    put(&one, "b.bin", b"seven!!");
    fs::write(one.path().join(".partial-c.bin"), b"half").expect("written");
    // As a crash of the machine may leave them: not in the list, and cut short.
    fs::write(one.path().join("d.bin"), b"nobody said so").expect("written");
    fs::write(one.path().join("b.bin"), b"sev").expect("written");
    drop((one, survey));
    let survey = Survey::open(&place.path().join("case")).expect("opened");
    let again = survey.arrived().expect("listed");
    assert_eq!(names(&again), [[("a.bin".to_owned(), 4)]]);
    assert_eq!(again[0].id(), "one");
    assert_eq!(fs::read(again[0].path().join("a.bin")).expect("read"), b"four");
    for gone in ["b.bin", "d.bin", ".partial-c.bin"] {
        assert!(!again[0].path().join(gone).exists(), "{gone}");
    }
    // While it is held nobody else takes it, or sweeps it.
    let other = Survey::open(&place.path().join("case")).expect("opened");
    assert!(other.arrived().expect("listed").is_empty());
    let path = again[0].path().to_owned();
    again[0].discard();
    assert!(path.exists(), "somebody works with it still");
    drop(again);
    assert!(!path.exists());
}

#[test]
fn what_nobody_brings_in_is_swept_when_it_is_old_and_what_holds_nothing_at_once() {
    let place = tempfile::tempdir().expect("a folder");
    let survey = survey(place.path());
    for id in ["old", "young", "ahead"] {
        put(&survey.incoming(id).expect("begun"), "a.bin", id.as_bytes());
    }
    let empty = survey.incoming("empty").expect("begun");
    let path = empty.path().to_owned();
    drop(empty);
    assert!(!path.exists());
    let root = survey.folder.staging_root();
    let day = Duration::from_secs(24 * 3600);
    let now = SystemTime::now();
    for (id, time) in
        [("old", now - 15 * day), ("young", now - 13 * day), ("ahead", now + 99 * day)]
    {
        let list = File::options().write(true).open(root.join(format!("upload-{id}")).join(LIST));
        list.expect("a list").set_modified(time).expect("set");
    }
    // A list that names what lies elsewhere is no list of what came.
    let odd = root.join("upload-odd");
    fs::create_dir(&odd).expect("made");
    let secret =
        "{\"schema\":\"stillroom.arrived/1\",\"id\":\"odd\",\"files\":{\"../../survey.sqlite\":1}}";
    fs::write(odd.join(LIST), secret).expect("written");
    drop(survey);
    let survey = Survey::open(&place.path().join("case")).expect("opened");
    let again = survey.arrived().expect("listed");
    let ids: Vec<&str> = again.iter().map(Incoming::id).collect();
    assert_eq!(ids, ["ahead", "young"]);
    assert!(!root.join("upload-old").exists() && !odd.exists());
    assert!(survey.folder.database().exists());
}
