//! The committed schemas are those of the wire types, the committed description of the API that of
//! its routes.

use std::process::Command;

#[test]
fn committed_schemas_are_those_of_the_wire_types() {
    let ran = Command::new(env!("CARGO_BIN_EXE_xtask")).args(["schemas", "--check"]).output();
    let ran = ran.expect("xtask starts");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
}
