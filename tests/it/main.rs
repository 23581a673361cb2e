#[test]
fn builds() {}
