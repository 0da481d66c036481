//! Names that come from outside and become names on the disk: one plain component of a path.

use crate::problem::Problem;

/// Longest name, bytes: what common file systems take, less room for a suffix.
const LONGEST: usize = 200;

/// Refuses a name that is not one plain component: nothing that leads elsewhere, is hidden, or that
/// another system reads otherwise.
pub(crate) fn plain(name: &str) -> Result<&str, Problem> {
    let odd = |c: char| c.is_control() || "/\\:*?\"<>|".contains(c);
    let wrong = name.trim() != name
        || name.is_empty()
        || name.len() > LONGEST
        || name.starts_with('.')
        || name.ends_with('.')
        || name.contains(odd);
    if wrong {
        let shown: String = name.chars().filter(|c| !c.is_control()).take(40).collect();
        return Err(Problem::input(
            format!("'{shown}' cannot be a name here"),
            "Give a name of letters, digits, spaces, dots, dashes; not beginning or ending with a dot.",
        ));
    }
    Ok(name)
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn a_name_is_one_component() {
        for good in ["night-one", "yard.sigmf-meta", "Bürg Straße 4", "a..b"] {
            assert_eq!(plain(good).expect(good), good);
        }
        let long = "x".repeat(201);
        for bad in [
            "",
            ".",
            "..",
            "../x",
            "x/y",
            "/etc/passwd",
            "x\\y",
            "C:x",
            ".hidden",
            "x\0",
            "x\n",
            " x",
            "x ",
            "x.",
            "a|b",
            long.as_str(),
        ] {
            assert!(plain(bad).is_err(), "{bad:?}");
        }
    }
}
