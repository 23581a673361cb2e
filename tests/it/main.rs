mod ingest;

#[test]
fn builds() {}
